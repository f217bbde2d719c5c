"""Where the flange comes in: the shift at which it touches, and how far the contact wanders."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.curves import smooth_curve
from tapertread.contact.records import ContactTable, End, Floats, SideContacts
from tapertread.contact.rolling import contact_table
from tapertread.shapes.outline import Outline

FLANGE_ANGLE_RAD = math.radians(45.0)
"""Contact steeper than this is on the flange face [trade-practice]."""

TREAD_ANGLE_RAD = math.radians(15.0)
"""Contact flatter than this is on the tread [trade-practice]."""

FINE_STEP_MM = 1.0 / 64.0

TOWARD_ROOT_ANGLE_RAD = math.radians(5.0)
"""Of two places that share the load, one on a part of the wheel steeper than this lies toward the
flange root; flatter ones are both on the tread [trade-practice]."""

TWO_POINT_GAP_MM = 0.1
"""A second place so near to its rail shares the load of real bodies [trade-practice]."""

RIM_MM = 2.0
"""Contact so near to the field end of an outline is on its edge."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlangeContact:
    """Shift at which each wheel's flange face comes to bear; ``None`` where it never does.

    Attributes
    ----------
    right_mm, left_mm : float or None
        Shift of the axle centre (> 0 to the right) at which that wheel's contact angle first
        exceeds `angle_rad` on its flange side, or at which its flange stops the axle.
    angle_rad : float
        The stated angle.
    """

    right_mm: float | None
    left_mm: float | None
    angle_rad: float

    @property
    def nearest_mm(self) -> float | None:
        """Smaller size of the two shifts."""
        known = [abs(shift) for shift in (self.right_mm, self.left_mm) if shift is not None]
        return min(known, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bandwidth:
    """Width over which the contact wanders while the wheelset weaves, mm."""

    wheel_mm: float
    rail_mm: float


def fine_table(table: ContactTable, *, step_mm: float = FINE_STEP_MM) -> ContactTable:
    """Return the same pairing over the same reach in fine steps, second contacts included."""
    low, high = table.shift_mm[0], table.shift_mm[-1]
    count = max(2, round((high - low) / step_mm) + 1)
    return contact_table(
        table.wheelset,
        table.track,
        shifts_mm=np.linspace(low, high, count),
        yaw_rad=table.yaw_rad,
        grid_mm=table.grid_mm,
    )


def flange_contact(
    table: ContactTable, *, angle_rad: float = FLANGE_ANGLE_RAD, refine: bool = True
) -> FlangeContact:
    """Return the shifts at which the flanges bear.

    Parameters
    ----------
    table : ContactTable
        The pairing; its reach bounds the answer.
    angle_rad : float
        Contact angle from which on the flange face bears.
    refine : bool
        Whether to recompute in fine steps, so that the table's own step does not matter.
    """
    fine = fine_table(table) if refine else table
    outward = _first_beyond(
        fine.shift_mm, _flange_side_angle(fine.right), bound=angle_rad, end=fine.right_end
    )
    mirrored = _first_beyond(
        -fine.shift_mm[::-1],
        _flange_side_angle(fine.left)[::-1],
        bound=angle_rad,
        end=fine.left_end,
    )
    return FlangeContact(
        right_mm=outward, left_mm=None if mirrored is None else -mirrored, angle_rad=angle_rad
    )


def _flange_side_angle(side: SideContacts) -> Floats:
    """Return contact angles on the flange side of the tape line, and zero on the rim's side.

    A rim chamfer is as steep as a flange face and no flange.
    """
    return np.where(side.wheel_y_mm > 0.0, 0.0, side.contact_angle_rad)


def _first_beyond(shift: Floats, angle: Floats, *, bound: float, end: End) -> float | None:
    """Return the first shift steeper than the bound, or where the axle is stopped by its flange."""
    steep = np.nonzero(angle > bound)[0]
    if steep.size == 0:
        stands = np.nonzero(np.isfinite(angle))[0]
        stopped = end == "climbs" and stands.size and angle[stands[-1]] > TREAD_ANGLE_RAD
        return float(shift[stands[-1]]) if stopped else None
    i = int(steep[0])
    if i == 0 or not np.isfinite(angle[i - 1]):
        return float(shift[i])
    share = (bound - angle[i - 1]) / (angle[i] - angle[i - 1])
    return float(shift[i - 1] + share * (shift[i] - shift[i - 1]))


def tread_end(fine: ContactTable, *, way: int, from_mm: float) -> int:
    """Return the index of the last shift on the tread alone, going right (1) or left (-1).

    On the tread the outer wheel's contact stays flatter than `TREAD_ANGLE_RAD`; where tread and
    flange root bear together the contact leaps past that angle, so two-point contact ends it too.
    From a shift (mm) where contact is steep already, the tread lies inward of it.
    """
    side = fine.right if way > 0 else fine.left
    order = np.nonzero(way * (fine.shift_mm - from_mm) >= 0.0)[0][::way]
    flat = side.contact_angle_rad < TREAD_ANGLE_RAD
    steep = np.nonzero(~flat[order])[0]
    if steep.size == 0:
        return int(order[-1])
    if steep[0] > 0:
        return int(order[int(steep[0]) - 1])
    inward = np.nonzero(flat & (way * (fine.shift_mm - from_mm) < 0.0))[0][::-way]
    return int(inward[0]) if inward.size else int(order[0])


def two_point_from_mm(fine: ContactTable, *, way: int, from_mm: float) -> float | None:
    """Return the outward shift from which the outer wheel comes near its rail in two points.

    One of its two places lies toward the flange root, where the wheel is steeper than
    `TOWARD_ROOT_ANGLE_RAD`; neither has a gap of more than `TWO_POINT_GAP_MM`. ``None`` where that
    is nowhere going right (1) or left (-1) from a shift (mm), or where no second places were looked
    for.
    """
    side = fine.right if way > 0 else fine.left
    if not np.isfinite(side.second_gap_mm).any():
        return None
    wheel = fine.wheelset.right if way > 0 else fine.wheelset.left
    root = steep_from_mm(wheel, angle_rad=TOWARD_ROOT_ANGLE_RAD)
    if root is None:
        return None
    inner = np.minimum(side.wheel_y_mm, side.second_wheel_y_mm)
    near = (side.second_gap_mm <= TWO_POINT_GAP_MM) & (inner < root)
    outward = way * fine.shift_mm[near & (way * (fine.shift_mm - from_mm) >= 0.0)]
    return float(outward.min()) if outward.size else None


def steep_from_mm(wheel: Outline, *, angle_rad: float) -> float | None:
    """Return where a wheel first gets steeper than an angle, from the tape line inward (mm, < 0).

    ``None`` where it is nowhere so steep on the flange side of the tape line.
    """
    curve = smooth_curve(wheel)
    tip = int(np.argmin(curve.z_mm))
    past = np.arange(curve.y_mm.size) > tip
    steep = past & (curve.y_mm < 0.0) & (curve.angle_rad > angle_rad)
    return float(curve.y_mm[steep].max()) if steep.any() else None


def rides_rim(table: ContactTable, *, side: str) -> NDArray[np.bool_]:
    """Return at which shifts a wheel rides its rim, shape (shifts,).

    That is on its field side, steeper than any tread or within `RIM_MM` of where its outline ends.
    """
    contacts = table.side(side)
    wheel = table.wheelset.right if side == "right" else table.wheelset.left
    edge = float(wheel.y_mm.max()) - RIM_MM
    steep = contacts.contact_angle_rad > TREAD_ANGLE_RAD
    rides: NDArray[np.bool_] = (contacts.wheel_y_mm > 0.0) & (steep | (contacts.wheel_y_mm > edge))
    return rides


def contact_bandwidth(table: ContactTable, *, amplitude_mm: float, line_mm: float) -> Bandwidth:
    """Return how far the contact wanders on wheel and rail over ± an amplitude about a line (mm).

    The wider of both sides counts.
    """
    inside = np.abs(table.shift_mm - line_mm) <= amplitude_mm + 1e-9
    sides = (table.left, table.right)
    return Bandwidth(
        wheel_mm=max(_spread(side.wheel_y_mm[inside]) for side in sides),
        rail_mm=max(_spread(side.rail_y_mm[inside]) for side in sides),
    )


def _spread(places: Floats) -> float:
    good = places[np.isfinite(places)]
    return float(np.ptp(good)) if good.size else math.nan
