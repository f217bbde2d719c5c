"""Which way round an outline lies, whether it is what it is said to be, and in which unit.

Seen along the curve from gauge side to field side, a wheel turns left round its flange tip and then
right through its root; a rail turns right twice, over its gauge corner and its field corner. A
mirrored wheel turns right first, one with its flange up turns the other way round.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tapertread.errors import OutlineRefused
from tapertread.shapes.outline import Floats, Kind

TURN_SCALE_MM = 3.0
HEADING_STEP_MM = 0.5
CLEAR_TURN_RAD = np.radians(45.0)
HEAD_OR_FLANGE_RAD = np.radians(100.0)
GIVE_RAD = np.radians(12.0)
WIDEST_FLANGE_MM = 40.0
"""Arc over which the middle 70 % of a turn happen: about 25 mm at a flange tip, 60 mm over a rail
head [derived]."""

LEAST_WIDTH_MM, MOST_WIDTH_MM = 30.0, 320.0
UNITS_MM = {"inches": 25.4, "metres": 1000.0, "micrometres": 1e-3, "centimetres": 10.0}


def refuse_wrong_unit(points: Floats) -> None:
    """Refuse points (n, 2) whose span no wheel or rail has in millimetres.

    Raises
    ------
    OutlineRefused
        ``wrong-unit``, naming the unit that would make sense.
    """
    spans = np.ptp(points, axis=0)
    span = float(np.hypot(*spans))
    if LEAST_WIDTH_MM <= span <= MOST_WIDTH_MM:
        return
    fits = [name for name, factor in UNITS_MM.items() if 60.0 <= span * factor <= MOST_WIDTH_MM]
    guess = f"; it would fit if the numbers were {' or '.join(fits)}" if fits else ""
    raise OutlineRefused(
        "wrong-unit",
        f"an outline {spans[0]:.4g} mm wide and {spans[1]:.4g} mm high{guess}",
        allowed=f"{LEAST_WIDTH_MM:.0f} to {MOST_WIDTH_MM:.0f} mm from end to end",
        todo="state the unit of the file",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A turn of a curve: angle (rad, > 0 to the left) and arc over which its middle 70 % happen."""

    angle_rad: float
    width_mm: float


def turns(points: Floats) -> list[Turn]:
    """Return the clear turns (over 45°) of a curve (n, 2) in their order.

    Directions are taken over 3 mm of arc; a turn ends where more than 12° are turned back, so that
    noise and rough spots do not cut it.
    """
    heading = heading_rad(points, scale_mm=TURN_SCALE_MM)
    ends = _turning_points(heading)
    found = [_turn(heading[first : last + 1]) for first, last in pairwise(ends)]
    return [turn for turn in found if abs(turn.angle_rad) > CLEAR_TURN_RAD]


def heading_rad(points: Floats, *, scale_mm: float) -> Floats:
    """Return the direction of a curve (n, 2) over a length of arc, unwrapped, every 0.5 mm, rad."""
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    scale = min(scale_mm, 0.3 * float(arc[-1]))
    at = np.arange(0.0, float(arc[-1]) - scale, HEADING_STEP_MM)
    dy, dz = (np.interp(at + scale, arc, c) - np.interp(at, arc, c) for c in points.T)
    return np.unwrap(np.arctan2(dz, dy))


def _turning_points(heading: Floats) -> list[int]:
    """Return where the heading has its alternating extremes, both ends included, by index."""
    extremes, candidate, sense = [0], 0, 0
    values = heading.tolist()
    for index, value in enumerate(values):
        change = value - values[candidate]
        if sense == 0 and abs(change) > GIVE_RAD:
            sense, candidate = (1 if change > 0.0 else -1), index
        elif sense * change > 0.0:
            candidate = index
        elif sense and abs(change) > GIVE_RAD:
            extremes.append(candidate)
            sense, candidate = -sense, index
    return [*extremes, candidate if sense else len(values) - 1]


def _turn(heading: Floats) -> Turn:
    angle = float(heading[-1] - heading[0])
    done = (heading - heading[0]) / angle if angle else np.zeros_like(heading)
    middle = np.flatnonzero((done > 0.15) & (done < 0.85))
    width = HEADING_STEP_MM * float(np.ptp(middle)) if middle.size else 0.0
    return Turn(angle_rad=angle, width_mm=width)


def gauge_side_first(points: Floats) -> Floats:
    """Return the curve (n, 2) begun at the end that lies farther to the gauge side."""
    tenth = max(1, points.shape[0] // 10)
    backwards = points[:tenth, 0].mean() > points[-tenth:, 0].mean()
    return points[::-1] if backwards else points


def refuse_wrong_shape(points: Floats, *, kind: Kind) -> None:
    """Refuse a curve (n, 2; gauge side first) that is mirrored, upside down or of the other kind.

    Outlines with too little of flange or rail head to tell are let through.

    Raises
    ------
    OutlineRefused
        ``mirrored-outline`` or ``wrong-kind``.
    """
    found = turns(points)
    largest = max(found, key=lambda turn: abs(turn.angle_rad), default=None)
    if largest is None or abs(largest.angle_rad) < HEAD_OR_FLANGE_RAD:
        return
    at = found.index(largest)
    opposite_before = any(turn.angle_rad * largest.angle_rad < 0.0 for turn in found[:at])
    opposite_after = any(turn.angle_rad * largest.angle_rad < 0.0 for turn in found[at + 1 :])
    narrow = largest.width_mm < WIDEST_FLANGE_MM
    if kind == "wheel":
        _refuse_wheel(largest, narrow=narrow, mirrored=opposite_before and not opposite_after)
    else:
        _refuse_rail(largest, flange=narrow and (opposite_before or opposite_after))


def _refuse_wheel(largest: Turn, *, narrow: bool, mirrored: bool) -> None:
    if largest.angle_rad < 0.0 and not narrow:
        raise _wrong_kind("a curve that falls away on both sides, as a rail head does", "a wheel")
    if largest.angle_rad < 0.0:
        raise _mirrored("a wheel whose flange points up")
    if mirrored:
        raise _mirrored("a wheel whose flange lies on the field side of its tread")


def _refuse_rail(largest: Turn, *, flange: bool) -> None:
    if flange:
        raise _wrong_kind("a curve with a flange tip and a flange root, as a wheel has", "a rail")
    if largest.angle_rad > 0.0:
        raise _mirrored("a rail whose head points down")


def _wrong_kind(found: str, named: str) -> OutlineRefused:
    return OutlineRefused(
        "wrong-kind",
        found,
        allowed=f"the outline of {named}",
        todo="name the kind that it is, or give the right file",
    )


def _mirrored(found: str) -> OutlineRefused:
    return OutlineRefused(
        "mirrored-outline",
        found,
        allowed="y outward to the field side and z up, for left and right alike",
        todo="state the axis flips in the recipe",
    )
