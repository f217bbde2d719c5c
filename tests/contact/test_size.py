"""Models and other sizes: geometry knows no unit of length."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from tapertread.contact import (
    TrackShape,
    WheelsetShape,
    conicity,
    contact_table,
    main_line,
    pair_up,
    smoothed_difference_mm,
)
from tapertread.contact.sides import fitting_grid_mm
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Origin, Outline

DRAWN = Origin(name="drawn for a test", status="constructed")
MODEL_SHIFTS_MM = np.arange(-1.5, 1.51, 0.05)


def _tube(radius_mm: float) -> Outline:
    turn = np.linspace(-0.5 * math.pi, 0.5 * math.pi, 400)
    return Outline(
        kind="rail",
        y_mm=radius_mm * np.sin(turn),
        z_mm=radius_mm * (np.cos(turn) - 1.0),
        origin=DRAWN,
    )


def _model(scale: float) -> tuple[WheelsetShape, TrackShape]:
    """Return hollow wheels of 20 mm radius on tubes 100 mm apart, times a scale."""
    y = scale * np.linspace(-6.0, 6.0, 601)
    wheel = Outline(
        kind="wheel",
        y_mm=y,
        z_mm=0.1 * y + 0.3 * scale * np.sin(y / (4.0 * scale)) ** 2,
        tape_line_mm=5.0 * scale,
        origin=DRAWN,
    )
    wheelset = WheelsetShape(
        left=wheel,
        right=wheel,
        left_radius_mm=20.0 * scale,
        right_radius_mm=20.05 * scale,
        back_to_back_mm=90.0 * scale,
    )
    rail = _tube(3.0 * scale)
    return wheelset, TrackShape(left=rail, right=rail, gauge_mm=94.0 * scale, inclination=0.0)


def test_grid_is_finer_for_models_only() -> None:
    assert fitting_grid_mm(_model(1.0)[0]) == pytest.approx(0.02, rel=0.01)
    assert fitting_grid_mm(_model(23.0)[0]) == 0.2


@pytest.mark.parametrize("scale", [0.5, 2.0, 4.5])
def test_lengths_scale_and_angles_stay(scale: float) -> None:
    wheelset, track = _model(1.0)
    table = contact_table(wheelset, track, shifts_mm=MODEL_SHIFTS_MM, grid_mm=0.02)
    larger = contact_table(*_model(scale), shifts_mm=scale * MODEL_SHIFTS_MM, grid_mm=0.02 * scale)
    np.testing.assert_allclose(
        larger.rolling_radius_difference_mm,
        scale * table.rolling_radius_difference_mm,
        atol=2e-5 * scale,
    )
    np.testing.assert_allclose(larger.roll_rad, table.roll_rad, atol=2e-7)
    np.testing.assert_allclose(
        conicity(larger, amplitudes_mm=[scale, 1.2 * scale]).value,
        conicity(table, amplitudes_mm=[1.0, 1.2]).value,
        rtol=1e-4,
    )


def test_a_model_is_solved_at_its_own_grid() -> None:
    wheelset, track = _model(1.0)
    table = contact_table(wheelset, track, shifts_mm=MODEL_SHIFTS_MM)
    fine = contact_table(wheelset, track, shifts_mm=MODEL_SHIFTS_MM, grid_mm=0.005)
    np.testing.assert_allclose(
        table.rolling_radius_difference_mm, fine.rolling_radius_difference_mm, atol=2e-5
    )
    assert smoothed_difference_mm(table, approach_mm=1e-4) == pytest.approx(
        table.rolling_radius_difference_mm, abs=5e-3
    )


def test_a_model_is_paired_up_whole() -> None:
    pairing = pair_up(*_model(1.0), shifts_mm=MODEL_SHIFTS_MM, amplitudes_mm=(0.5, 1.0))
    assert pairing.clearance_mm is None  # no flange, no clearance
    assert pairing.flange.right_mm is None
    assert pairing.flange.nearest_mm is None
    assert np.isfinite(pairing.conicity.value).all()
    line = main_line(pairing.table)
    assert line is not None
    assert line.shift_mm < 0.0  # the right wheel is larger


def test_wheels_without_flanges_roll_until_they_leave_the_rail(shapes: Any) -> None:
    wheelset = shapes.wheelset("cone-steep-no-flange")
    tube = design("tube", radius_mm=10.0)
    track = TrackShape(left=tube, right=tube, gauge_mm=1480.0, inclination=0.0)
    table = contact_table(wheelset, track, shifts_mm=np.arange(-80.0, 80.1, 0.5))
    assert table.left_end == table.right_end == "off the rail"
    stands = np.isfinite(table.roll_rad)
    assert table.shift_mm[stands].max() > 50.0
    middle = np.abs(table.shift_mm) <= 5.0
    cone = np.polyfit(table.shift_mm[middle], table.rolling_radius_difference_mm[middle], 1)[0]
    taper = math.tan(float(table.right.contact_angle_rad[table.shift_mm == 0.0][0]))
    d = math.atan(taper)
    # cone with roll on a tube of 10 mm [wickens-2003]; l is half the distance of the contacts
    half = 0.5 * 1500.0 + float(table.right.wheel_y_mm[table.shift_mm == 0.0][0])
    r0 = float(table.right.rolling_radius_mm[table.shift_mm == 0.0][0])
    exact = math.sin(d) * (half + 10.0 * math.sin(d)) / (half * math.cos(d) - r0 * math.sin(d))
    assert 0.5 * cone == pytest.approx(exact, rel=1e-3)
