"""Klingel's wave and what a curve asks, against closed forms evaluated apart from this project.

Wavelength: ``2 pi sqrt(r0 l / conicity)`` [klingel-1883], l half the distance of the tape circles,
evaluated for half distance 0.75 m and radius 0.46 m and printed to 10 micrometres;
frequency = speed / wavelength; the free offset in a curve of 1000 m is ``r0 l / (conicity R)``.
Left out: the column of a rigid bogie, which is no matter of one wheelset.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tapertread.contact import (
    TrackShape,
    WheelsetShape,
    contact_table,
    needed_difference_mm,
    run_tangent,
    steer_curve,
    steering_reach,
    wavelength_m,
)
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline

TAPE_CIRCLE_MM, RADIUS_MM = 1500.0, 460.0

WAVES = (
    # conicity, wavelength m, Hz at 100 km/h, Hz at 300 km/h, offset mm in a curve of 1000 m
    (0.025, 23.34100, 1.19009, 3.57026, 13.8000),
    (0.05, 16.50458, 1.68303, 5.04910, 6.9000),
    (0.1, 11.67050, 2.38017, 7.14051, 3.4500),
    (0.15, 9.52892, 2.91510, 8.74531, 2.3000),
    (0.2, 8.25229, 3.36607, 10.09821, 1.7250),
    (0.25, 7.38107, 3.76338, 11.29014, 1.3800),
    (0.3, 6.73797, 4.12258, 12.36773, 1.1500),
    (0.4, 5.83525, 4.76034, 14.28102, 0.8625),
    (0.5, 5.21921, 5.32222, 15.96667, 0.6900),
)


@pytest.mark.parametrize(("conicity", "length"), [row[:2] for row in WAVES])
def test_wavelength(conicity: float, length: float) -> None:
    found = wavelength_m(conicity, tape_circle_mm=TAPE_CIRCLE_MM, radius_mm=RADIUS_MM)
    assert found == pytest.approx(length, abs=1e-5)


@pytest.mark.parametrize(("speed", "column"), [(100.0, 2), (300.0, 3)])
def test_frequency(speed: float, column: int) -> None:
    wheel, rail = design("S1002"), design("60E1")
    wheelset = WheelsetShape(
        left=wheel,
        right=wheel,
        left_radius_mm=RADIUS_MM,
        right_radius_mm=RADIUS_MM,
        back_to_back_mm=1360.0,
    )
    table = contact_table(wheelset, TrackShape(left=rail, right=rail))
    for row in WAVES:
        wave = run_tangent(table, conicity_value=row[0], speed_kmh=speed)
        assert wave.wavelength_m == pytest.approx(row[1], abs=1e-5)
        assert wave.frequency_hz == pytest.approx(row[column], abs=1e-5)


def test_needed_difference_is_tape_circle_distance_times_radius_over_curve_radius() -> None:
    # 1500 mm x 460 mm / 300 m = 2.3 mm: the outer rail is longer by 1500/300000 of the way.
    for curve in (300.0, -300.0):
        needed = needed_difference_mm(curve, tape_circle_mm=TAPE_CIRCLE_MM, radius_mm=RADIUS_MM)
        assert needed == pytest.approx(2.3, rel=1e-12)
    straight = needed_difference_mm(math.inf, tape_circle_mm=1500.0, radius_mm=460.0)
    assert straight == 0.0


def test_wavelength_of_a_solved_cone_is_that_of_its_exact_conicity() -> None:
    """A cone of 0.05 rad on a 300 mm crown has conicity 0.052658328 with roll [wickens-2003]."""
    y = np.arange(-40.0, 40.05, 0.1)
    cone = Outline(kind="wheel", y_mm=y, z_mm=y * math.tan(0.05))
    end = math.acos(1.0 - 16.0 / 300.0)
    turn = np.linspace(-end, end, 2000)
    rail = Outline(kind="rail", y_mm=300.0 * np.sin(turn), z_mm=300.0 * (np.cos(turn) - 1.0))
    gauge = 2.0 * (750.0 + 300.0 * math.sin(0.05) - math.sqrt(300.0**2 - 286.0**2))
    wheelset = WheelsetShape(
        left=cone, right=cone, left_radius_mm=460.0, right_radius_mm=460.0, back_to_back_mm=1360.0
    )
    track = TrackShape(left=rail, right=rail, gauge_mm=gauge, inclination=0.0)
    reach = steering_reach(contact_table(wheelset, track))
    offset = steer_curve(reach, curve_radius_m=1000.0).equilibrium_outward_shift_mm
    # the free offset, 460 x 0.75 / (0.052658328 x 1000) mm, with the exact conicity for the taper
    assert offset == pytest.approx(460.0 * 0.75 / 52.658328, rel=1e-4)


@pytest.mark.parametrize(("conicity", "offset"), [(row[0], row[4]) for row in WAVES])
def test_free_offset_in_a_curve(conicity: float, offset: float) -> None:
    """A straight difference curve gives the textbook offset; one is put into a solved table."""
    wheel, rail = design("cone-1-40"), design("60E1")
    wheelset = WheelsetShape(
        left=wheel,
        right=wheel,
        left_radius_mm=RADIUS_MM,
        right_radius_mm=RADIUS_MM,
        back_to_back_mm=1360.0,
    )
    table = contact_table(
        wheelset, TrackShape(left=rail, right=rail), shifts_mm=np.linspace(-15.0, 15.0, 301)
    )
    flat = np.full(table.shift_mm.size, 0.05)
    straight = replace(
        table,
        right=replace(
            table.right,
            rolling_radius_mm=RADIUS_MM + conicity * table.shift_mm,
            contact_angle_rad=flat,
        ),
        left=replace(
            table.left,
            rolling_radius_mm=RADIUS_MM - conicity * table.shift_mm,
            contact_angle_rad=flat,
        ),
    )
    reach = steering_reach(straight, refine=False)
    found = steer_curve(reach, curve_radius_m=1000.0).equilibrium_outward_shift_mm
    assert found == pytest.approx(offset, abs=1e-4)
