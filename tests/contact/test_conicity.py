"""Rolling lines and equivalent conicity, where they exist and where they do not."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tapertread.contact import (
    ContactTable,
    conicity,
    contact_table,
    main_line,
    neutral_spans_mm,
    nonlinearity_per_mm,
    refined_conicity,
    rolling_lines,
    standard_amplitude_mm,
)


@pytest.fixture(scope="module")
def s1002(shapes: Any) -> ContactTable:
    return contact_table(shapes.wheelset("S1002"), shapes.track("60E1"))


@pytest.fixture(scope="module")
def hollow(shapes: Any) -> ContactTable:
    return contact_table(shapes.wheelset("hollow-worn"), shapes.track("60E1"))


@pytest.mark.parametrize("amplitude", [1.5, 3.0, 5.5])
def test_period_agrees_with_integrating_the_motion(s1002: ContactTable, amplitude: float) -> None:
    """An integrator of scipy rolls the wheelset along the same broken line of differences."""
    scale = 1500.0 * 460.0
    difference = s1002.rolling_radius_difference_mm

    def motion(_: float, state: np.ndarray) -> list[float]:
        return [state[1], -float(np.interp(state[0], s1002.shift_mm, difference)) / scale]

    def crossing(_: float, state: np.ndarray) -> float:
        return float(state[1])

    crossing.direction = 1.0  # type: ignore[attr-defined]
    run = solve_ivp(
        motion,
        (0.0, 40_000.0),
        [amplitude, -1e-12],
        events=crossing,
        rtol=1e-8,
        atol=1e-10,
        max_step=40.0,
    )
    half_wave = float(run.t_events[0][0])
    expected = 2.0 * scale * (math.pi / (2.0 * half_wave)) ** 2
    (found,) = conicity(s1002, amplitudes_mm=(amplitude,)).value
    assert found == pytest.approx(expected, rel=2e-4)


def test_refined_value_does_not_depend_on_the_tables_own_step(s1002: ContactTable) -> None:
    coarse = contact_table(s1002.wheelset, s1002.track, shifts_mm=np.arange(-10.0, 10.1, 2.0))
    one, other = refined_conicity(s1002), refined_conicity(coarse)
    np.testing.assert_allclose(one.value, other.value, rtol=1e-9)


def test_unequal_wheels_weave_about_their_own_line(shapes: Any) -> None:
    """On a straight cone the conicity about the line is that about the centre."""
    cone = shapes.cone(0.05)
    track = shapes.round_track(300.0, 0.05, half_spacing_mm=750.0)
    even = conicity(contact_table(shapes.wheelset(cone), track), amplitudes_mm=(3.0,))
    uneven = contact_table(shapes.wheelset(cone, right_larger_mm=0.3), track)
    about = conicity(uneven, amplitudes_mm=(3.0,))
    assert about.line_mm == pytest.approx(-0.3 / (2.0 * math.tan(0.05)), abs=1e-3)
    assert about.value[0] == pytest.approx(even.value[0], rel=2e-3)


def test_hollow_wheels_have_an_unstable_centre(hollow: ContactTable) -> None:
    centre = [line for line in rolling_lines(hollow) if abs(line.shift_mm) < 0.1]
    assert len(centre) == 1
    assert not centre[0].stable
    assert main_line(hollow) is None
    curve = conicity(hollow)
    assert np.isnan(curve.value).all()
    assert math.isnan(curve.line_mm)
    assert set(curve.reasons) == {"not assessed: diverges, there is no stable rolling line"}


def test_lines_led_by_a_flange_are_marked(hollow: ContactTable) -> None:
    outer = [line for line in rolling_lines(hollow) if abs(line.shift_mm) > 5.0]
    assert [line.on_flange for line in outer] == [True, True]
    assert all(line.stable for line in outer)


def test_a_cylinder_is_neutral_not_divergent(shapes: Any) -> None:
    table = contact_table(shapes.wheelset("cylinder"), shapes.track("60E1"))
    (reason,) = conicity(table, amplitudes_mm=(3.0,)).reasons
    assert "nothing steers" in reason
    assert "diverges" not in reason


def test_a_wheelset_led_by_its_flange_has_no_line(shapes: Any) -> None:
    table = contact_table(shapes.wheelset("cylinder", right_larger_mm=0.5), shapes.track("60E1"))
    (reason,) = conicity(table, amplitudes_mm=(3.0,)).reasons
    assert "a flange leads" in reason


def test_a_wave_that_would_cross_another_line_diverges(s1002: ContactTable) -> None:
    """Stable about the centre, unstable 4 mm off: a wave of 5 mm does not come back."""
    y = s1002.shift_mm
    bent = _with_difference(s1002, 0.1 * y * (1.0 - (y / 4.0) ** 2))
    curve = conicity(bent, amplitudes_mm=(2.0, 5.0))
    assert np.isfinite(curve.value[0])
    assert curve.reasons[0] == ""
    assert np.isnan(curve.value[1])
    assert curve.reasons[1] == "not assessed: diverges, the wave crosses another rolling line"
    lines = [(round(line.shift_mm, 1), line.stable) for line in rolling_lines(bent)]
    assert lines == [(-4.0, False), (0.0, True), (4.0, False)]


def test_a_wave_that_leaves_the_known_shifts_is_not_assessed(s1002: ContactTable) -> None:
    curve = conicity(s1002, amplitudes_mm=(3.0, 12.0))
    assert np.isnan(curve.value[1])
    assert curve.reasons[1] == "not assessed: the wave leaves the shifts with stable contact"
    assert np.isnan(curve.harmonic[1])


def test_values_between_amplitudes_are_linear_and_nan_stays(s1002: ContactTable) -> None:
    curve = conicity(s1002, amplitudes_mm=(2.0, 4.0, 12.0))
    assert curve.at(3.0) == pytest.approx(0.5 * (curve.value[0] + curve.value[1]))
    assert math.isnan(curve.at(8.0))
    assert nonlinearity_per_mm(curve) == pytest.approx(0.5 * (curve.value[1] - curve.value[0]))
    assert math.isnan(nonlinearity_per_mm(conicity(s1002, amplitudes_mm=(2.0, 12.0))))


@pytest.mark.parametrize(
    ("clearance", "amplitude"),
    # 3 mm from 7 mm on, (clearance - 1) / 2 from 5 to 7 mm, 2 mm below [tsi-locpas-2014], recalled.
    [(10.0, 3.0), (7.0, 3.0), (6.999, 2.9995), (6.0, 2.5), (5.0, 2.0), (4.999, 2.0), (1.0, 2.0)],
)
def test_amplitude_by_the_standards_rule(clearance: float, amplitude: float) -> None:
    assert standard_amplitude_mm(clearance) == pytest.approx(amplitude)


def test_the_rules_pieces_join_without_a_step() -> None:
    for joint in (5.0, 7.0):
        below, above = (standard_amplitude_mm(joint + d) for d in (-1e-9, 1e-9))
        assert below == pytest.approx(above, abs=1e-8)


def test_a_zero_at_a_computed_shift_counts_once(s1002: ContactTable) -> None:
    assert len(rolling_lines(s1002)) == 1
    exact = _with_difference(s1002, 0.1 * np.round(s1002.shift_mm, 3))
    assert len(rolling_lines(exact)) == 1


def _with_difference(table: ContactTable, half: np.ndarray) -> ContactTable:
    tread = np.full(table.shift_mm.size, 0.05)
    return replace(
        table,
        right=replace(table.right, rolling_radius_mm=460.0 + half, contact_angle_rad=tread),
        left=replace(table.left, rolling_radius_mm=460.0 - half, contact_angle_rad=tread),
    )


def _with_steep(table: ContactTable, difference: Any, *, angle_rad: float) -> ContactTable:
    """Return a table whose right wheel makes up this difference, its contacts this steep."""
    right = replace(
        table.right,
        rolling_radius_mm=table.left.rolling_radius_mm + difference,
        contact_angle_rad=np.full_like(table.shift_mm, angle_rad),
    )
    left = replace(table.left, contact_angle_rad=np.zeros_like(table.shift_mm))
    return replace(table, right=right, left=left)


def test_a_cylinder_is_neutral_up_to_its_flanges(shapes: Any) -> None:
    """Equal radii everywhere on the tread, by definition; only the flange faces push back."""
    table = contact_table(shapes.wheelset("cylinder"), shapes.track("60E1"))
    ((low, high),) = neutral_spans_mm(table)
    assert low == pytest.approx(-high)
    assert 5.5 < high < 6.5
    assert all(line.on_flange for line in rolling_lines(table))
    assert main_line(table) is None
    bare = contact_table(shapes.wheelset("cylinder-no-flange"), shapes.track("60E1"))
    assert neutral_spans_mm(bare) == ((-10.0, 10.0),)
    assert rolling_lines(bare) == ()


@pytest.mark.parametrize("noise_mm", [0.0, 5e-6])
def test_a_jump_out_of_a_neutral_span_is_no_stable_line(shapes: Any, noise_mm: float) -> None:
    """Into a flange root flatter than 45 degrees, and with a search's noise about zero."""
    table = contact_table(shapes.wheelset("cylinder"), shapes.track("60E1"))
    shift = table.shift_mm
    jump = np.where(np.abs(shift) > 6.0, np.sign(shift) * 2.0, 0.0)
    noisy = jump + noise_mm * np.where(np.arange(shift.size) % 2, 1.0, -1.0)
    flat = _with_steep(table, noisy, angle_rad=0.3)
    assert neutral_spans_mm(flat) == ((-6.0, 6.0),)
    assert rolling_lines(flat) == ()


@pytest.mark.parametrize(("name", "inclination"), [("cone-1-40", 0.025), ("S1002", 0.05)])
def test_a_gentle_slope_is_not_neutral(shapes: Any, name: str, inclination: float) -> None:
    """S1002 at 1:20 has a conicity of 0.009 only, and steers all the same."""
    table = contact_table(shapes.wheelset(name), shapes.track("60E1", inclination=inclination))
    assert neutral_spans_mm(table) == ()
    assert main_line(table) is not None
