"""What a wheelset on a track looks like to the contact search, and what the search returns."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from tapertread.errors import ContactRefused
from tapertread.shapes.outline import Outline

if TYPE_CHECKING:
    import polars as pl

Floats = NDArray[np.float64]
End = Literal["", "climbs", "off the rail"]
GRID_MM = 0.2
"""Common lateral grid of wheel and rail at full size."""

GaugeRule = Literal["smallest-0-14-mm", "at-five-eighths-inch"]


def numbers_or_none(values: Floats) -> list[float | None]:
    """Return an array as plain numbers for JSON, ``None`` where it holds NaN."""
    return [None if np.isnan(value) else float(value) for value in values]


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelsetShape:
    """Two wheel outlines on one axle.

    Attributes
    ----------
    left, right : Outline
        Wheels, each in its own side's axes.
    left_radius_mm, right_radius_mm : float
        Rolling radius at the tape line.
    back_to_back_mm : float
        Distance between the flange backs.
    """

    left: Outline
    right: Outline
    left_radius_mm: float
    right_radius_mm: float
    back_to_back_mm: float

    @property
    def tape_circle_distance_mm(self) -> float:
        """Distance between the two tape circles: 1500 mm for 1360 mm and two 70 mm offsets."""
        return self.back_to_back_mm + self.left.tape_line_mm + self.right.tape_line_mm

    @property
    def mean_radius_mm(self) -> float:
        """Mean of both radii at the tape line, mm."""
        return 0.5 * (self.left_radius_mm + self.right_radius_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackShape:
    """Two rail outlines set to a gauge.

    Attributes
    ----------
    left, right : Outline
        Rails, each in its own side's axes.
    gauge_mm : float
        As `gauge_rule` defines it.
    inclination : float
        Lean of the rails toward the track centre as a slope (1/40 = 0.025), applied only to
        outlines whose frame is ``rail-axis``.
    gauge_rule : {"smallest-0-14-mm", "at-five-eighths-inch"}
        European or US definition.
    """

    left: Outline
    right: Outline
    gauge_mm: float = 1435.0
    inclination: float = 1.0 / 40.0
    gauge_rule: GaugeRule = "smallest-0-14-mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class SideContacts:
    """Contact of one side at every shift; arrays of shape (shifts,), NaN where there is none.

    Places are in each body's own outline axes (mm). Curvatures (1/mm) are of the cross-section,
    > 0 where the body is convex. The second contact is the next separate place whose remaining
    gap is smallest.
    """

    wheel_y_mm: Floats
    wheel_z_mm: Floats
    rail_y_mm: Floats
    rail_z_mm: Floats
    rolling_radius_mm: Floats
    contact_angle_rad: Floats
    wheel_curvature_per_mm: Floats
    rail_curvature_per_mm: Floats
    second_wheel_y_mm: Floats
    second_rail_y_mm: Floats
    second_gap_mm: Floats

    def columns(self) -> dict[str, Floats]:
        """Return every array by its name."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactTable:
    """Rolling contact of one wheelset on one track over a range of shifts.

    Attributes
    ----------
    wheelset, track : WheelsetShape, TrackShape
        What was put together.
    shift_mm : ndarray, shape (shifts,)
        Lateral shift of the axle centre, > 0 toward the right rail.
    roll_rad, axle_height_mm : ndarray, shape (shifts,)
        Roll > 0 lowers the right wheel; height of the axle centre above the running plane.
    left, right : SideContacts
        Contact of each side.
    yaw_rad : float
        Yaw > 0 is nose right.
    grid_mm : float
        Common lateral grid of wheel and rail.
    left_end, right_end : {"", "climbs", "off the rail"}
        Why stable contact ends before the last shift on that side; empty where it does not.
    notes : tuple of str
        What the search had to leave out and why.
    """

    wheelset: WheelsetShape
    track: TrackShape
    shift_mm: Floats
    roll_rad: Floats
    axle_height_mm: Floats
    left: SideContacts
    right: SideContacts
    yaw_rad: float = 0.0
    grid_mm: float = GRID_MM
    left_end: End = ""
    right_end: End = ""
    notes: tuple[str, ...] = ()

    @property
    def rolling_radius_difference_mm(self) -> Floats:
        """Rolling radius difference right - left, mm, shape (shifts,)."""
        return self.right.rolling_radius_mm - self.left.rolling_radius_mm

    def columns(self) -> dict[str, Floats]:
        """Return every array by a name of its own; those of a side begin with it."""
        return {
            "shift_mm": self.shift_mm,
            "roll_rad": self.roll_rad,
            "axle_height_mm": self.axle_height_mm,
            "rolling_radius_difference_mm": self.rolling_radius_difference_mm,
            **{f"right_{name}": values for name, values in self.right.columns().items()},
            **{f"left_{name}": values for name, values in self.left.columns().items()},
        }

    def to_frame(self) -> pl.DataFrame:
        """Return a table with one row for each shift; null where there is no contact."""
        import polars as pl  # noqa: PLC0415  heavy, and few results become tables

        return pl.DataFrame(self.columns()).fill_nan(None)

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON; ``None`` where there is no contact."""
        return {
            **{name: numbers_or_none(values) for name, values in self.columns().items()},
            "yaw_rad": self.yaw_rad,
            "left_end": self.left_end,
            "right_end": self.right_end,
            "notes": list(self.notes),
        }

    def side(self, name: str) -> SideContacts:
        """Return the contacts of ``left`` or ``right``.

        Raises
        ------
        ContactRefused
            If the name is neither.
        """
        if name not in ("left", "right"):
            raise ContactRefused(
                "unknown-side", f"side {name!r}", allowed="left or right", todo="name a side"
            )
        return self.left if name == "left" else self.right
