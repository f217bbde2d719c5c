"""Yaw: the contact-locus construction against lowering the whole solid of revolution.

The brute force knows nothing of a locus: it samples the turned wheel's surface point by point,
yawed, rolled and shifted in space, and lowers it onto the rail drawn out along the track.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from tapertread.contact import TrackShape, WheelsetShape, contact_table

AROUND_RAD = np.arange(-0.12, 0.12001, 0.001)
"""A step of 1 mrad hides 460 mm x 0.0005^2 / 2 = 0.06 micrometre of the wheel's lowest point."""

NEAR_MM = 6.0
HEIGHT_TOLERANCE_MM = 0.002
"""The 0.2 mm grid on a flange face of 70°, and a rail drawn as a polyline here."""

PLACE_TOLERANCE_MM = 0.04
"""Half a step of the samples along and around the wheel."""


@dataclass(frozen=True, kw_only=True)
class Turned:
    """A wheelset in space on two rails."""

    wheelset: WheelsetShape
    track: TrackShape
    yaw_rad: float

    def lowest(
        self, *, right: bool, shift: float, roll: float, near_mm: float
    ) -> tuple[float, float]:
        """Return the smallest height over the rail and the rolling radius there, mm."""
        sign = 1.0 if right else -1.0
        outline = self.wheelset.right if right else self.wheelset.left
        keep = np.abs(outline.y_mm - near_mm) < NEAR_MM
        keep &= np.arange(keep.size) >= np.argmin(outline.z_mm)
        arc = outline.arc_mm[keep]
        fine = np.arange(arc[0], arc[-1], 0.05)
        y, z = np.interp(fine, arc, outline.y_mm[keep]), np.interp(fine, arc, outline.z_mm[keep])
        radius = 460.0 - z[:, None]
        across = sign * (0.5 * self.wheelset.back_to_back_mm + 70.0 + y[:, None])
        along, down = radius * np.sin(AROUND_RAD), radius * np.cos(AROUND_RAD)
        # yaw about the vertical through the axle centre, then roll about the track's direction
        sideways = across * np.cos(self.yaw_rad) + along * np.sin(self.yaw_rad)
        level = sideways * np.cos(roll) - down * np.sin(roll)
        depth = sideways * np.sin(roll) + down * np.cos(roll)
        rail_y, rail_z = self._rail()
        height = -depth - np.interp(sign * (shift + level), rail_y, rail_z)
        at = np.unravel_index(np.argmin(height), height.shape)
        return float(height[at]), float(radius[at[0], 0])

    def _rail(self) -> tuple[np.ndarray, np.ndarray]:
        lean = np.arctan(self.track.inclination)
        rail = self.track.right.moved(turn_rad=float(lean))
        z = rail.z_mm - rail.z_mm.max()
        place = 0.5 * self.track.gauge_mm - rail.y_mm[z >= -14.0].min()
        over = z > -30.0
        return rail.y_mm[over] + place, z[over]


@pytest.mark.parametrize("yaw_mrad", [6.0, -15.0, 24.0])
@pytest.mark.parametrize("wheel", ["S1002", "cone-1-40"])
def test_locus_agrees_with_the_whole_surface(shapes: Any, wheel: str, yaw_mrad: float) -> None:
    wheelset, track = shapes.wheelset(wheel), shapes.track("60E1")
    shifts = np.array([-3.0, 2.0, 5.5, 6.2])
    table = contact_table(wheelset, track, shifts_mm=shifts, yaw_rad=yaw_mrad / 1000.0)
    assert table.yaw_rad == yaw_mrad / 1000.0
    turned = Turned(wheelset=wheelset, track=track, yaw_rad=yaw_mrad / 1000.0)
    for at, shift in enumerate(shifts.tolist()):
        heights = []
        for right, side in ((True, table.right), (False, table.left)):
            height, radius = turned.lowest(
                right=right,
                shift=shift,
                roll=float(table.roll_rad[at]),
                near_mm=float(side.wheel_y_mm[at]),
            )
            heights.append(height)
            steep = 1.0 + abs(math.tan(float(side.contact_angle_rad[at])))
            assert side.rolling_radius_mm[at] == pytest.approx(
                radius, abs=PLACE_TOLERANCE_MM * steep
            )
        assert heights[0] == pytest.approx(heights[1], abs=HEIGHT_TOLERANCE_MM)
        assert table.axle_height_mm[at] == pytest.approx(-heights[0], abs=HEIGHT_TOLERANCE_MM)


def test_yaw_is_even(shapes: Any) -> None:
    """Turned to the right or to the left, mirrored along the track: the same heights."""
    wheelset, track = shapes.wheelset("S1002"), shapes.track("60E1")
    right, left = (contact_table(wheelset, track, yaw_rad=yaw) for yaw in (0.015, -0.015))
    np.testing.assert_array_equal(right.roll_rad, left.roll_rad)
    np.testing.assert_array_equal(
        right.rolling_radius_difference_mm, left.rolling_radius_difference_mm
    )


def test_yaw_brings_the_flange_in_earlier(shapes: Any) -> None:
    """A turned flange is wider, seen along the track: it bears at a smaller shift."""
    wheelset, track = shapes.wheelset("S1002"), shapes.track("60E1")
    shifts = np.arange(5.0, 7.51, 0.05)
    first = []
    for yaw in (0.0, 0.012, 0.024):
        table = contact_table(wheelset, track, shifts_mm=shifts, yaw_rad=yaw)
        first.append(float(shifts[np.argmax(table.right.contact_angle_rad > 0.8)]))
    assert first[0] > first[1] > first[2]


def test_yaw_tends_to_no_yaw(shapes: Any) -> None:
    """What yaw changes goes with its square."""
    wheelset, track = shapes.wheelset("S1002"), shapes.track("60E1")
    shifts = np.array([-4.0, 1.0, 5.5])
    rolls = [
        contact_table(wheelset, track, shifts_mm=shifts, yaw_rad=yaw).roll_rad
        for yaw in (0.0, 0.004, 0.008)
    ]
    ratio = (rolls[2] - rolls[0]) / (rolls[1] - rolls[0])
    np.testing.assert_allclose(ratio, 4.0, rtol=0.05)
