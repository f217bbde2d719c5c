"""Outlines made ready for the contact search: smooth curves sampled on one common lateral grid.

The search lowers a wheel onto a rail, so only the lower side of a wheel and the upper side of a
rail can meet. This is the one place where an outline becomes ``z(y)``; what an overhang hides is
counted and said.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.curves import Curve, smooth_curve
from tapertread.contact.records import Floats, GaugeRule
from tapertread.errors import ContactRefused
from tapertread.shapes.outline import Outline

GAUGE_DEPTH_EUROPE_MM = 14.0
GAUGE_DEPTH_US_MM = 15.875
GAUGING_LINE_MM = 10.0
FLANK_NODES = 24
FLANK_SLOPE = 20.0
VERTICAL_RAD = math.radians(89.0)
REMEMBERED = 1024
"""Sections kept ready: a fleet meets the same rails again and again."""

Z, STATION_Y, STATION_Z, ANGLE, CURVATURE = range(5)
"""Rows of `Section.rows`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One body on the common grid: node i lies at ``first_mm + i * step_mm``, outward.

    Attributes
    ----------
    rows : ndarray, shape (5, nodes)
        Height z, the outline's own y and z there, angle (rad), curvature (1/mm, convex > 0).
    hidden_mm : float
        Arc length of outline that lies under an overhang and cannot be met from above or below.
    """

    first_mm: float
    step_mm: float
    rows: Floats
    hidden_mm: float


class _Points:
    """An outline that equals every other with the same points, so that results are remembered."""

    __slots__ = ("key", "outline")

    def __init__(self, outline: Outline) -> None:
        self.outline = outline
        self.key = (
            outline.y_mm.tobytes(),
            outline.z_mm.tobytes(),
            outline.kind,
            outline.frame,
            outline.origin.status,
        )

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Points) and self.key == other.key


def wheel_section(outline: Outline, *, radius_mm: float, yaw_rad: float, step_mm: float) -> Section:
    """Return the lower side of a wheel on the grid, as the locus of possible contact points.

    On a yawed wheel the lowest generator no longer carries the contact: on each circle of the
    solid of revolution the point is taken whose normal has no part along the track. With radius
    ``R(y)``, slope ``R'`` and yaw ``psi`` it lies at ``y cos(psi) - R R' tan(psi) sin(psi)``
    across and ``-R sqrt(1 - R'^2 tan^2(psi))`` below the axle [derived].

    Parameters
    ----------
    outline : Outline
        Wheel in its own axes.
    radius_mm : float
        Rolling radius at the tape line.
    yaw_rad : float
        Yaw of the wheelset; only its size matters here.
    step_mm : float
        Grid step.
    """
    return _wheel_section(_Points(outline), radius_mm if yaw_rad else 0.0, abs(yaw_rad), step_mm)


@lru_cache(maxsize=REMEMBERED)
def _wheel_section(points: _Points, radius_mm: float, yaw_rad: float, step_mm: float) -> Section:
    curve = smooth_curve(points.outline)
    y, z = curve.y_mm, curve.z_mm
    place_y, place_z = y, z
    keep = np.ones(y.shape, dtype=np.bool_)
    if yaw_rad != 0.0:
        tangent = math.tan(yaw_rad)
        with np.errstate(divide="ignore", invalid="ignore"):
            radius_slope = -np.tan(curve.angle_rad)
            inner = 1.0 - (radius_slope * tangent) ** 2
        keep = inner > 0.0
        radius = radius_mm - z
        place_y = y * math.cos(yaw_rad) - radius * radius_slope * tangent * math.sin(yaw_rad)
        place_z = radius_mm - radius * np.sqrt(np.where(keep, inner, 0.0))
    rows = np.stack((place_z, y, z, curve.angle_rad, curve.curvature_per_mm))
    return _on_grid(place_y[keep], rows[:, keep], step_mm=step_mm, upper=False)


def flange_face_mm(outline: Outline) -> float | None:
    """Return the outward place (mm, negative) of a wheel's flange face, 10 mm below its tread.

    Taken from the smooth curve itself, which a grid across so steep a face would blur; ``None``
    where the outline has no flange that deep.
    """
    return _flange_face_mm(_Points(outline))


@lru_cache(maxsize=REMEMBERED)
def _flange_face_mm(points: _Points) -> float | None:
    curve = smooth_curve(points.outline)
    y, z = curve.y_mm, curve.z_mm
    tip = int(np.argmin(z))
    above = np.nonzero(z[tip:] >= -GAUGING_LINE_MM)[0]
    if z[tip] > -GAUGING_LINE_MM or above.size == 0:
        return None
    after = tip + int(above[0])
    if after == 0:
        return float(y[0])
    return float(np.interp(-GAUGING_LINE_MM, z[after - 1 : after + 1], y[after - 1 : after + 1]))


def rail_section(
    outline: Outline, *, inclination: float, gauge_rule: GaugeRule, step_mm: float
) -> tuple[Section, float]:
    """Return the upper side of a rail in the track's axes, and its gauge point.

    The rail leans by `inclination` toward the track centre where its outline is in its own axis
    frame, and is then lowered until its top lies in the running plane.

    Returns
    -------
    tuple of (Section, float)
        The section, whose ``z = 0`` is the running plane, and the outward place (mm, negative) of
        the gauge point in the same axes.
    """
    return _rail_section(_Points(outline), inclination, gauge_rule, step_mm)


@lru_cache(maxsize=REMEMBERED)
def _rail_section(
    points: _Points, inclination: float, gauge_rule: GaugeRule, step_mm: float
) -> tuple[Section, float]:
    lean = math.atan(inclination) if points.outline.frame == "rail-axis" else 0.0
    own = smooth_curve(points.outline)
    curve = own.turned(lean)
    z = curve.z_mm - curve.z_mm.max()
    rows = np.stack((z, own.y_mm, own.z_mm, curve.angle_rad, -curve.curvature_per_mm))
    gauge_point = _gauge_point(
        curve, z, gauge_rule=gauge_rule, whole=points.outline.origin.status != "measured"
    )
    section = _on_grid(curve.y_mm, rows, step_mm=step_mm, upper=True)
    return _with_flanks(section), gauge_point


def _with_flanks(section: Section) -> Section:
    """Return a rail section with steep flanks added, so that a contact at its edge is inside."""
    rows = np.pad(section.rows, ((0, 0), (FLANK_NODES, FLANK_NODES)), mode="edge")
    drop = np.arange(1, FLANK_NODES + 1) * section.step_mm * FLANK_SLOPE
    rows[Z, :FLANK_NODES] -= drop[::-1]
    rows[Z, -FLANK_NODES:] -= drop
    return replace(section, first_mm=section.first_mm - FLANK_NODES * section.step_mm, rows=rows)


def _gauge_point(curve: Curve, z: Floats, *, gauge_rule: GaugeRule, whole: bool) -> float:
    """Return where gauge is taken; a `whole` (drawn) rail ends where its outline ends.

    A drawn rail that turns back above 14 mm, such as a tube of a model, is widest there.
    """
    top = int(np.argmax(z))
    y, z = curve.y_mm[: top + 1], z[: top + 1]
    european = gauge_rule == "smallest-0-14-mm"
    depth = GAUGE_DEPTH_EUROPE_MM if european else GAUGE_DEPTH_US_MM
    crossing = np.nonzero((z[:-1] <= -depth) & (z[1:] > -depth))[0]
    if crossing.size == 0:
        if european and whole and curve.angle_rad[0] >= VERTICAL_RAD:
            return float(y.min())
        raise ContactRefused(
            "rail-too-shallow",
            f"a rail outline whose gauge side ends {-z.min():.1f} mm below its top",
            allowed=f"a gauge side that reaches {depth:g} mm below the top, where gauge is taken",
            todo="measure lower down the gauge side",
        )
    first = int(crossing[-1])
    share = (-depth - z[first]) / (z[first + 1] - z[first])
    at_depth = float(y[first] + share * (y[first + 1] - y[first]))
    return min(at_depth, float(y[z >= -depth].min())) if european else at_depth


def _on_grid(y: Floats, rows: Floats, *, step_mm: float, upper: bool) -> Section:
    """Return the upper or lower envelope of a dense curve at the grid's nodes."""
    first = math.ceil(y.min() / step_mm)
    last = math.floor(y.max() / step_mm)
    nodes = np.arange(first, last + 1) * step_mm
    sign = 1.0 if upper else -1.0
    best = np.full((rows.shape[0], nodes.size), np.nan)
    best[Z] = -sign * np.inf
    shown = 0.0
    for run in _monotone_runs(y):
        piece = run if y[run[-1]] > y[run[0]] else run[::-1]
        inside = (nodes >= y[piece[0]]) & (nodes <= y[piece[-1]])
        if not inside.any():
            continue
        height = _height_between(nodes[inside], y[piece], rows[Z, piece])
        wins = sign * height > sign * best[Z, inside]
        where = np.nonzero(inside)[0][wins]
        best[Z, where] = height[wins]
        for row in range(1, rows.shape[0]):
            best[row, where] = np.interp(nodes[where], y[piece], rows[row, piece])
        shown = max(shown, float(np.ptp(y[piece])))
    step = float(np.median(np.hypot(np.diff(y), np.diff(rows[Z])))) if y.size > 1 else 0.0
    hidden = max(0.0, (y.size - 1 - np.count_nonzero(np.diff(y) > 0.0)) * step)
    return Section(
        first_mm=first * step_mm,
        step_mm=step_mm,
        rows=np.ascontiguousarray(best),
        hidden_mm=hidden,
    )


def _height_between(at: Floats, y: Floats, z: Floats) -> Floats:
    """Return heights between dense points: linear plus half the local second difference."""
    k = np.clip(np.searchsorted(y, at) - 1, 0, y.size - 2)
    width = y[k + 1] - y[k]
    share = np.divide(at - y[k], width, out=np.zeros_like(at), where=width > 0.0)
    linear = z[k] + share * (z[k + 1] - z[k])
    before, after = np.maximum(k - 1, 0), np.minimum(k + 2, y.size - 1)
    bend = 0.25 * (z[after] - z[k + 1] - z[k] + z[before])
    even = np.abs(y[after] - y[before] - 3.0 * width) < 0.1 * width
    bent: Floats = linear - np.where(even, bend * share * (1.0 - share), 0.0)
    return bent


def _monotone_runs(y: Floats) -> list[NDArray[np.intp]]:
    """Return index runs over which y moves one way, longest part of the curve in a few runs."""
    way = np.sign(np.diff(y))
    way[way == 0.0] = 1.0
    turns = np.nonzero(np.diff(way) != 0.0)[0] + 1
    bounds = np.concatenate(([0], turns, [y.size - 1]))
    return [np.arange(start, stop + 1) for start, stop in itertools.pairwise(bounds)]
