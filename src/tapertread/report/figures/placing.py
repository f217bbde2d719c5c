"""Where the outlines of a pairing lie across the track at one shift, seen looking forward.

Places are across the track (> 0 to the right of its centre) and above the running plane, mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.contact.records import ContactTable, SideContacts
from tapertread.errors import ContactRefused
from tapertread.shapes.outline import Outline

Floats = NDArray[np.float64]
SideName = Literal["left", "right"]
SIDES: tuple[SideName, SideName] = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One side of a pairing at one shift.

    Attributes
    ----------
    side : {"left", "right"}
        Which side; the left one is drawn as the mirror of its own axes.
    lean_rad : float
        Lean of the rail toward the track centre that its outline does not hold yet.
    index : int
        Row of the table.
    """

    table: ContactTable
    side: SideName
    index: int

    @property
    def contacts(self) -> SideContacts:
        """The table's contacts of this side."""
        return self.table.side(self.side)

    @property
    def hand(self) -> float:
        """1 on the right, where outward is to the right; -1 on the left."""
        return 1.0 if self.side == "right" else -1.0

    @property
    def wheel_outline(self) -> Outline:
        """The wheel of this side."""
        wheels = self.table.wheelset
        return wheels.right if self.side == "right" else wheels.left

    @property
    def rail_outline(self) -> Outline:
        """The rail of this side."""
        track = self.table.track
        return track.right if self.side == "right" else track.left

    def value(self, name: str) -> float:
        """Return one of `SideContacts`' quantities at this shift."""
        column: Floats = getattr(self.contacts, name)
        return float(column[self.index])

    def wheel(self, y_mm: ArrayLike, z_mm: ArrayLike) -> tuple[Floats, Floats]:
        """Return where points of the wheel lie: shifted with the axle and rolled about it."""
        wheels = self.table.wheelset
        radius = wheels.right_radius_mm if self.side == "right" else wheels.left_radius_mm
        roll = self.hand * float(self.table.roll_rad[self.index])
        shift = self.hand * float(self.table.shift_mm[self.index])
        half = 0.5 * wheels.back_to_back_mm + self.wheel_outline.tape_line_mm
        across = half + np.asarray(y_mm, dtype=np.float64)
        down = np.asarray(z_mm, dtype=np.float64) - radius
        outward = shift + across * math.cos(roll) + down * math.sin(roll)
        height = float(self.table.axle_height_mm[self.index])
        return self.hand * outward, height - across * math.sin(roll) + down * math.cos(roll)

    def rail(self, y_mm: ArrayLike, z_mm: ArrayLike) -> tuple[Floats, Floats]:
        """Return where points of the rail lie: leaning as laid, held by the contact place."""
        track = self.table.track
        lean = math.atan(track.inclination) if self.rail_outline.frame == "rail-axis" else 0.0
        y, z = np.asarray(y_mm, dtype=np.float64), np.asarray(z_mm, dtype=np.float64)
        dy, dz = y - self.value("rail_y_mm"), z - self.value("rail_z_mm")
        x0, z0 = self.contact
        outward = dy * math.cos(lean) - dz * math.sin(lean)
        return x0 + self.hand * outward, z0 + dy * math.sin(lean) + dz * math.cos(lean)

    @property
    def contact(self) -> tuple[float, float]:
        """Where they touch."""
        x, z = self.wheel(self.value("wheel_y_mm"), self.value("wheel_z_mm"))
        return float(x), float(z)

    @property
    def normal(self) -> tuple[float, float]:
        """Direction in which the rail pushes the wheel: up, and toward the track centre."""
        angle = self.value("contact_angle_rad")
        return -self.hand * math.sin(angle), math.cos(angle)

    def second(self, within_mm: float) -> tuple[float, float] | None:
        """Return the next place on the wheel whose gap is at most `within_mm`, if there is one."""
        gap, y = self.value("second_gap_mm"), self.value("second_wheel_y_mm")
        if not (math.isfinite(gap) and math.isfinite(y)) or gap > within_mm:
            return None
        outline = self.wheel_outline
        near = int(np.argmin(np.abs(outline.y_mm - y)))
        x, z = self.wheel(y, outline.z_mm[near])
        return float(x), float(z)


def placed(table: ContactTable, index: int) -> tuple[Placed, Placed]:
    """Return left and right of a pairing at one row of its table.

    Raises
    ------
    ContactRefused
        If the table holds no contact there.
    """
    if not np.isfinite(table.roll_rad[index]):
        raise ContactRefused(
            "no-contact-here",
            f"no stable contact at {table.shift_mm[index]:g} mm shift",
            allowed="a shift at which both wheels stand on their rails",
            todo="draw a smaller shift",
        )
    left, right = (Placed(table=table, side=side, index=index) for side in SIDES)
    return left, right
