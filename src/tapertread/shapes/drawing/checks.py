"""Whether a drawing can be a wheel or rail at all: size, place, sense, and no self-crossing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tapertread.errors import DrawingRefused, Where
from tapertread.shapes.outline import Floats, Outline

LARGEST_MM = 400.0
SMALLEST_MM = 1.0
"""Widths between which a wheel or rail lies, models included, mm [trade-practice]."""

ORIGIN_TOLERANCE_MM = 0.05
FLANGE_MM = 15.0
"""Depth below the tread that only a flange reaches, mm [trade-practice]."""

_LINKS_AT_ONCE = 256
_UPRIGHT_RAD = 0.01
_ON_BACK_MM = 0.5


def check_shape(outline: Outline, *, z_axis_mm: float, where: Where) -> None:
    """Refuse a drawing that has the wrong size, place or sense, or crosses itself.

    Parameters
    ----------
    outline : Outline
        Points of the drawing, mm.
    z_axis_mm : float
        Height of the running part at ``y = 0``, mm; NaN where it has none.
    where : Where
        The file.

    Raises
    ------
    DrawingRefused
        ``wrong-unit``, ``mirrored-drawing``, ``upside-down``, ``off-origin``, ``tape-line``,
        ``self-crossing``.
    """
    _check_size(outline, where)
    if outline.kind == "wheel":
        _check_flange_back(outline, where)
        _check_sense_of_wheel(outline, where)
    else:
        _check_sense_of_rail(outline, where)
    if not abs(z_axis_mm) <= ORIGIN_TOLERANCE_MM:
        raise _off_origin(outline.kind, z_axis_mm, where=where)
    _check_crossing(outline, where)


def _check_size(outline: Outline, where: Where) -> None:
    width, height = float(np.ptp(outline.y_mm)), float(np.ptp(outline.z_mm))
    if not (SMALLEST_MM <= width <= LARGEST_MM and height <= LARGEST_MM):
        raise DrawingRefused(
            "wrong-unit",
            f"a {outline.kind} {width:.2f} mm wide and {height:.2f} mm high",
            allowed=f"{SMALLEST_MM:g} to {LARGEST_MM:g} mm wide, and at most as high",
            todo="check units, which holds for all lengths of the pieces",
            where=where,
        )


def _check_sense_of_wheel(outline: Outline, where: Where) -> None:
    deepest = int(outline.z_mm.argmin())
    if outline.z_mm[deepest] < -FLANGE_MM and outline.y_mm[deepest] > 0.0:
        raise _mirrored("the flange on the side of positive y", where)
    after_back = outline.y_mm > -outline.tape_line_mm + 1.0
    gauge_side = after_back & (outline.y_mm < 0.0)
    if gauge_side.any() and outline.z_mm[gauge_side].max() > FLANGE_MM:
        raise _upside_down("the flange above the tread", where)


def _check_sense_of_rail(outline: Outline, where: Where) -> None:
    if outline.y_mm[0] > outline.y_mm[-1]:
        raise _mirrored("a rail walked from positive to negative y", where)
    middle = np.abs(outline.y_mm) <= 0.25 * np.ptp(outline.y_mm)
    sides = max(outline.z_mm[0], outline.z_mm[-1])
    if sides > outline.z_mm[middle].max() + ORIGIN_TOLERANCE_MM:
        raise _upside_down("sides of the head above its crown", where)


def _check_flange_back(outline: Outline, where: Where) -> None:
    """Refuse an upright first piece, the flange back, that is not at minus the tape line."""
    dy, dz = np.diff(outline.y_mm[:2])[0], np.diff(outline.z_mm[:2])[0]
    upright = abs(dy) < _UPRIGHT_RAD * abs(dz)
    off = float(outline.y_mm[0] + outline.tape_line_mm)
    if upright and abs(off) > _ON_BACK_MM:
        raise DrawingRefused(
            "tape-line",
            f"a flange back at y = {outline.y_mm[0]:.2f} mm with a tape line of "
            f"{outline.tape_line_mm:.2f} mm",
            allowed="a flange back at minus the tape line, since the origin lies on it",
            todo="correct the tape line, or shift the drawing",
            where=where,
        )


def _check_crossing(outline: Outline, where: Where) -> None:
    crossing = first_crossing(outline.y_mm, outline.z_mm)
    if crossing is not None:
        raise DrawingRefused(
            "self-crossing",
            f"a curve that crosses itself near y {crossing[0]:.2f}, z {crossing[1]:.2f} mm",
            allowed="a curve that passes every place once",
            todo="correct the ends or centres of the pieces there",
            where=where,
        )


def first_crossing(y_mm: Floats, z_mm: Floats) -> tuple[float, float] | None:
    """Return where a chain of straight links (mm, shape (n,)) first crosses itself, or ``None``."""
    dy, dz = np.diff(y_mm), np.diff(z_mm)
    for start in range(0, dy.size, _LINKS_AT_ONCE):
        rows = np.arange(start, min(start + _LINKS_AT_ONCE, dy.size))
        along = _crossed_by_later_links(y_mm, z_mm, rows=rows)
        hits = np.argwhere(np.isfinite(along))
        if hits.size:
            row, column = hits[0]
            first, part = rows[row], along[row, column]
            return float(y_mm[first] + part * dy[first]), float(z_mm[first] + part * dz[first])
    return None


def _crossed_by_later_links(y_mm: Floats, z_mm: Floats, *, rows: NDArray[np.intp]) -> Floats:
    """Return where, 0..1 along each link of `rows`, a link after the next crosses it, or NaN."""
    y, z, dy, dz = y_mm[:-1], z_mm[:-1], np.diff(y_mm), np.diff(z_mm)
    own_dy, own_dz = dy[rows, None], dz[rows, None]
    turn = own_dy * dz - own_dz * dy
    apart_y, apart_z = y - y[rows, None], z - z[rows, None]
    turn = np.where(turn == 0.0, np.nan, turn)
    along = (apart_y * dz - apart_z * dy) / turn
    across = (apart_y * own_dz - apart_z * own_dy) / turn
    later = np.arange(dy.size) > rows[:, None] + 1
    hit = later & (along > 0.0) & (along < 1.0) & (across > 0.0) & (across < 1.0)
    return np.where(hit, along, np.nan)


def _mirrored(found: str, where: Where) -> DrawingRefused:
    return DrawingRefused(
        "mirrored-drawing",
        found,
        allowed="y outward: the gauge side at negative y, the field side at positive y",
        todo="change the sign of every y and turn the order of the pieces round",
        where=where,
    )


def _upside_down(found: str, where: Where) -> DrawingRefused:
    return DrawingRefused(
        "upside-down",
        found,
        allowed="z up: the flange tip of a wheel and the sides of a rail head at negative z",
        todo="change the sign of every z",
        where=where,
    )


def _off_origin(kind: str, z_axis_mm: float, *, where: Where) -> DrawingRefused:
    place = "tread at the tape line" if kind == "wheel" else "top of the rail at its axis"
    found = "no curve" if np.isnan(z_axis_mm) else f"the curve at z = {z_axis_mm:.3f} mm"
    return DrawingRefused(
        "off-origin",
        f"{found} at y = 0",
        allowed=f"the {place} at y = 0, z = 0, within {ORIGIN_TOLERANCE_MM} mm",
        todo="shift the drawing",
        where=where,
    )
