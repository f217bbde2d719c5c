"""Steering by shape: can a wheelset roll through a curve without its flange.

By shape alone: yaw stiffness of the bogie, cant deficiency and traction can still press a flange
against the rail.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.conicity import main_line
from tapertread.contact.flange import (
    FLANGE_ANGLE_RAD,
    fine_table,
    flange_contact,
    tread_end,
    two_point_from_mm,
)
from tapertread.contact.records import ContactTable, Floats
from tapertread.errors import ContactRefused

Indices = NDArray[np.intp]

REVERSAL_TOLERANCE_MM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """Where a hollow tread steers the wrong way.

    Attributes
    ----------
    from_mm, to_mm : float
        Shifts between which the difference has the wrong sign.
    side : str
        The wheel whose false flange bears, ``left`` or ``right``.
    wheel_y_mm, rail_y_mm : float
        Its contact place where the wrong difference is largest, outward.
    difference_mm : float
        The largest wrong difference, right - left.
    """

    from_mm: float
    to_mm: float
    side: str
    wheel_y_mm: float
    rail_y_mm: float
    difference_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Steering:
    """What a curve asks of a wheelset, and what its shape can give.

    Attributes
    ----------
    curve_radius_m : float
        > 0 turns right, so that the left rail is the outer one.
    needed_difference_mm : float
        Difference outer - inner for pure rolling, ``e r0 / R``.
    available_tread_mm : float
        Difference at the last shift on the tread alone.
    available_with_root_mm : float
        Largest difference from the end of the tread on, before the flange face bears.
    tread_shift_mm, root_shift_mm : float
        Outward shifts that belong to them.
    equilibrium_outward_shift_mm : float or None
        Outward shift of pure rolling; ``None`` if the shape cannot reach it.
    flange_free_by_shape : bool
        Whether the tread alone gives what is needed.
    share : float
        Available on the tread / needed, between 0 and 1.
    reversal : Reversal or None
        Where it steers the wrong way on its way outward.
    two_point_from_mm : float or None
        Outward shift from which the outer wheel comes near its rail in two points, one of them
        toward the flange root; ``None`` where it does not, or where the table had no second places.
    contact_spacing_mm, contact_radius_mm : float or None
        Distance between the two contact places along the axle, and the mean radius on which they
        roll: at the equilibrium, or at the end of the tread where there is none.
    """

    curve_radius_m: float
    needed_difference_mm: float
    available_tread_mm: float
    available_with_root_mm: float
    tread_shift_mm: float
    root_shift_mm: float
    equilibrium_outward_shift_mm: float | None
    flange_free_by_shape: bool
    share: float
    reversal: Reversal | None
    two_point_from_mm: float | None = None
    contact_spacing_mm: float | None = None
    contact_radius_mm: float | None = None

    @property
    def flange_free_in_two_points(self) -> bool:
        """Whether it rolls free of the flange only where its root is near, which load may press."""
        near, at = self.two_point_from_mm, self.equilibrium_outward_shift_mm
        if near is None or at is None:
            return False
        return self.flange_free_by_shape and at >= near


@dataclass(frozen=True, slots=True, kw_only=True)
class WayReach:
    """One way outward, from the rolling line to the flange face.

    Attributes
    ----------
    outward_mm, difference_mm : ndarray, shape (n,)
        Outward shift from the track centre and difference outer - inner.
    spacing_mm, radius_mm : ndarray, shape (n,)
        Distance between both contact places along the axle, and their mean rolling radius.
    tread_mm, tread_shift_mm : float
        Difference and outward shift at the last shift on the tread alone.
    root_mm, root_shift_mm : float
        Largest difference from the end of the tread on, before the flange face bears, and its
        outward shift.
    reversal : Reversal or None
        Where it steers the wrong way.
    two_point_from_mm : float or None
        Outward shift from which the outer wheel comes near its rail in two points.
    """

    outward_mm: Floats
    difference_mm: Floats
    spacing_mm: Floats
    radius_mm: Floats
    tread_mm: float
    tread_shift_mm: float
    root_mm: float
    root_shift_mm: float
    reversal: Reversal | None
    two_point_from_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SteeringReach:
    """What one pairing's shape can give toward both sides; curves of any radius read from it.

    Attributes
    ----------
    scale_mm2 : float
        Tape-circle distance times mean radius.
    start_mm : float
        Shift from which it moves outward: the rolling line, or 0 where there is none.
    right, left : WayReach
        Toward the right and the left rail.
    """

    scale_mm2: float
    start_mm: float
    right: WayReach
    left: WayReach


def needed_difference_mm(
    curve_radius_m: float, *, tape_circle_mm: float, radius_mm: float
) -> float:
    """Return the difference for pure rolling, ``e r0 / R`` in mm; 0 on straight track [derived].

    Raises
    ------
    ContactRefused
        If the curve radius is zero or not a number.
    """
    if curve_radius_m == 0.0 or math.isnan(curve_radius_m):
        raise ContactRefused(
            "bad-curve",
            f"a curve radius of {curve_radius_m} m",
            allowed="a radius other than zero, > 0 to the right, infinite for straight track",
            todo="give the radius in metres",
        )
    return tape_circle_mm * radius_mm / (1000.0 * abs(curve_radius_m))


def steering_reach(table: ContactTable, *, refine: bool = True) -> SteeringReach:
    """Return what a pairing can give toward both sides.

    Parameters
    ----------
    table : ContactTable
        The pairing; its reach must go beyond flange contact.
    refine : bool
        Whether to recompute in steps of `flange.FINE_STEP_MM`, so that the table's do not matter.
    """
    fine = fine_table(table) if refine else table
    line = main_line(fine)
    start = 0.0 if line is None else line.shift_mm
    return SteeringReach(
        scale_mm2=table.wheelset.tape_circle_distance_mm * table.wheelset.mean_radius_mm,
        start_mm=start,
        right=_way(fine, way=1, start=start),
        left=_way(fine, way=-1, start=start),
    )


def _way(fine: ContactTable, *, way: int, start: float) -> WayReach:
    bearing = flange_contact(fine, angle_rad=FLANGE_ANGLE_RAD, refine=False)
    bound = bearing.right_mm if way > 0 else bearing.left_mm
    outward = way * fine.shift_mm
    difference = way * fine.rolling_radius_difference_mm
    inside = (outward >= way * start) & np.isfinite(difference)
    if bound is not None:
        inside &= outward < way * bound
    if not inside.any():
        inside[int(np.argmin(np.abs(fine.shift_mm - start)))] = True
    run = np.nonzero(inside)[0][::way]
    tread = tread_end(fine, way=way, from_mm=start)
    root = _root(run[outward[run] >= outward[tread]], difference, tread=tread)
    return WayReach(
        outward_mm=outward[run] + 0.0,
        difference_mm=difference[run] + 0.0,
        spacing_mm=_spacing_mm(fine)[run],
        radius_mm=0.5 * (fine.right.rolling_radius_mm + fine.left.rolling_radius_mm)[run],
        tread_mm=_plain(difference[tread]),
        tread_shift_mm=_plain(outward[tread]),
        root_mm=_plain(difference[root]),
        root_shift_mm=_plain(outward[root]),
        reversal=_reversal(fine, run, difference, way=way),
        two_point_from_mm=two_point_from_mm(fine, way=way, from_mm=start),
    )


def _spacing_mm(table: ContactTable) -> Floats:
    """Return the distance of the two contact places along the axle at each shift, mm."""
    return table.wheelset.tape_circle_distance_mm + table.right.wheel_y_mm + table.left.wheel_y_mm


def _root(beyond: Indices, difference: Floats, *, tread: int) -> int:
    """Return the index of the largest difference from the end of the tread on."""
    if beyond.size == 0:
        return tread
    return int(beyond[int(np.argmax(difference[beyond]))])


def _plain(value: float) -> float:
    """Return a plain number; turned toward the left, zero would have a minus."""
    return float(value) + 0.0


def _reversal(fine: ContactTable, run: Indices, difference: Floats, *, way: int) -> Reversal | None:
    wrong = run[difference[run] < -REVERSAL_TOLERANCE_MM]
    if wrong.size == 0:
        return None
    worst = wrong[int(np.argmin(difference[wrong]))]
    inner = "left" if way > 0 else "right"
    side = fine.side(inner)
    return Reversal(
        from_mm=float(fine.shift_mm[wrong[0]]),
        to_mm=float(fine.shift_mm[wrong[-1]]),
        side=inner,
        wheel_y_mm=float(side.wheel_y_mm[worst]),
        rail_y_mm=float(side.rail_y_mm[worst]),
        difference_mm=float(way * difference[worst]),
    )


def steer_curve(reach: SteeringReach, *, curve_radius_m: float) -> Steering:
    """Return whether a pairing rolls through a curve without its flange, by shape alone.

    Parameters
    ----------
    reach : SteeringReach
        From `steering_reach`.
    curve_radius_m : float
        > 0 turns right; infinite is straight.

    Raises
    ------
    ContactRefused
        If the curve radius is zero or not a number.
    """
    needed = needed_difference_mm(curve_radius_m, tape_circle_mm=reach.scale_mm2, radius_mm=1.0)
    way = reach.left if curve_radius_m > 0.0 else reach.right
    given = max(way.tread_mm, 0.0)
    equilibrium = _equilibrium(way, needed)
    at = way.tread_shift_mm if equilibrium is None else equilibrium
    return Steering(
        curve_radius_m=curve_radius_m,
        needed_difference_mm=needed,
        available_tread_mm=way.tread_mm,
        available_with_root_mm=way.root_mm,
        tread_shift_mm=way.tread_shift_mm,
        root_shift_mm=way.root_shift_mm,
        equilibrium_outward_shift_mm=equilibrium,
        flange_free_by_shape=needed <= given,
        share=1.0 if needed == 0.0 else min(1.0, given / needed),
        reversal=way.reversal,
        two_point_from_mm=way.two_point_from_mm,
        contact_spacing_mm=float(np.interp(at, way.outward_mm, way.spacing_mm)),
        contact_radius_mm=float(np.interp(at, way.outward_mm, way.radius_mm)),
    )


def _equilibrium(way: WayReach, needed: float) -> float | None:
    enough = np.nonzero(way.difference_mm >= needed)[0]
    if enough.size == 0:
        return None
    i = int(enough[0])
    if i == 0:
        return float(way.outward_mm[0])
    low, high = way.difference_mm[i - 1], way.difference_mm[i]
    share = (needed - low) / (high - low)
    return float(way.outward_mm[i - 1] + share * (way.outward_mm[i] - way.outward_mm[i - 1]))
