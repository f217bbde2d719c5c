"""What the contact search refuses before it starts, and how it says so."""

from __future__ import annotations

import math

import numpy as np

from tapertread.contact.records import Floats, TrackShape, WheelsetShape
from tapertread.contact.sides import flange_spacing_mm
from tapertread.errors import ContactRefused

LARGEST_YAW_RAD = 0.1
LARGEST_INCLINATION = 0.25


def refuse_bad_shifts(shifts_mm: Floats) -> None:
    """Refuse shifts that are no strictly rising row of finite numbers."""
    if shifts_mm.ndim != 1 or shifts_mm.size < 1 or not np.isfinite(shifts_mm).all():
        raise ContactRefused(
            "bad-shifts",
            "shifts that are not one row of finite numbers",
            allowed="rising shifts in mm",
            todo="give at least one shift",
        )
    if (np.diff(shifts_mm) <= 0.0).any():
        raise ContactRefused(
            "bad-shifts",
            "shifts that do not rise",
            allowed="strictly rising shifts in mm",
            todo="sort them and leave repeats out",
        )


def refuse_bad_sizes(
    wheelset: WheelsetShape, track: TrackShape, *, yaw_rad: float, grid_mm: float
) -> None:
    """Refuse sizes that are missing, not positive, or past what small angles allow."""
    for name, value in (
        ("left_radius_mm", wheelset.left_radius_mm),
        ("right_radius_mm", wheelset.right_radius_mm),
        ("back_to_back_mm", wheelset.back_to_back_mm),
        ("gauge_mm", track.gauge_mm),
        ("grid_mm", grid_mm),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise _refused(name, value, allowed="a length above zero")
    for name, value, bound in (
        ("inclination", track.inclination, LARGEST_INCLINATION),
        ("yaw_rad", yaw_rad, LARGEST_YAW_RAD),
    ):
        if not abs(value) <= bound:
            raise _refused(name, value, allowed=f"between -{bound:g} and {bound:g}")


def _refused(name: str, value: float, *, allowed: str) -> ContactRefused:
    return ContactRefused(
        "bad-size", f"{name} = {value}", allowed=allowed, todo="give the measured or nominal value"
    )


def refuse_tight_gauge(wheelset: WheelsetShape, track: TrackShape) -> None:
    """Refuse a gauge between whose rails the flanges do not fit."""
    spacing = flange_spacing_mm(wheelset)
    if spacing is not None and spacing >= track.gauge_mm:
        raise ContactRefused(
            "gauge-too-narrow",
            f"an active flange spacing of {spacing:.1f} mm on a gauge of {track.gauge_mm:.1f} mm",
            allowed="a gauge wider than the flanges stand apart",
            todo="check gauge, back-to-back and the units of both",
        )
