"""Conicity of a difference that grows with the third power of the shift.

``difference = 2 beta y^3`` gives ``y'' = -k y^3`` with ``k = 2 beta / (e r0)``, whose solution is
``A cn(A sqrt(k) x)`` of modulus squared 1/2, so that the wave is ``4 K(1/2) / (A sqrt(k))`` long
(K the complete elliptic integral, taken from scipy). The conicity by the period is then
``pi^2 / (4 K(1/2)^2) beta A^2 = 0.71777 beta A^2`` and that of the first harmonic
``3/4 beta A^2`` [derived].
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ellipk

from tapertread.contact import (
    ConicityCurve,
    ContactTable,
    TrackShape,
    WheelsetShape,
    conicity,
    contact_table,
    nonlinearity_per_mm,
)
from tapertread.shapes.designs import design

BETA = 2e-4
BY_PERIOD = math.pi**2 / (4.0 * ellipk(0.5) ** 2)


def _with_difference(table: ContactTable, half_difference: np.ndarray) -> ContactTable:
    """Return a table whose right radius is larger by this, and whose left is smaller."""
    tread = np.full(table.shift_mm.size, 0.05)
    return replace(
        table,
        right=replace(
            table.right, rolling_radius_mm=460.0 + half_difference, contact_angle_rad=tread
        ),
        left=replace(
            table.left, rolling_radius_mm=460.0 - half_difference, contact_angle_rad=tread
        ),
    )


@pytest.fixture(scope="module")
def table() -> ContactTable:
    wheel, rail = design("cylinder-no-flange"), design("60E1")
    wheelset = WheelsetShape(
        left=wheel, right=wheel, left_radius_mm=460.0, right_radius_mm=460.0, back_to_back_mm=1360.0
    )
    track = TrackShape(left=rail, right=rail)
    return contact_table(wheelset, track, shifts_mm=np.linspace(-10.0, 10.0, 4001))


@pytest.fixture(scope="module")
def cubic(table: ContactTable) -> ConicityCurve:
    return conicity(_with_difference(table, BETA * table.shift_mm**3))


def test_by_the_period(cubic: ConicityCurve) -> None:
    assert pytest.approx(0.71777, abs=5e-6) == BY_PERIOD
    expected = BY_PERIOD * BETA * cubic.amplitude_mm**2
    np.testing.assert_allclose(cubic.value, expected, rtol=2e-5)


@pytest.mark.parametrize("hair_mm", [0.0, 1e-15, 1e-13, 1e-11, 1e-8, 1e-6, 1e-4])
def test_turning_a_hair_off_a_computed_shift(table: ContactTable, hair_mm: float) -> None:
    """A turning point may fall on a shift of the table, or anywhere near it."""
    cubic = _with_difference(table, BETA * table.shift_mm**3)
    for amplitude in (1.0 + hair_mm, 1.0 - hair_mm):
        (found,) = conicity(cubic, amplitudes_mm=(amplitude,)).value
        assert found == pytest.approx(BY_PERIOD * BETA * amplitude**2, rel=1e-4)


def test_by_the_first_harmonic(cubic: ConicityCurve) -> None:
    np.testing.assert_allclose(cubic.harmonic, 0.75 * BETA * cubic.amplitude_mm**2, rtol=2e-5)


def test_nonlinearity_is_half_the_change_from_2_to_4_mm(cubic: ConicityCurve) -> None:
    expected = 0.5 * BY_PERIOD * BETA * (16.0 - 4.0)
    assert nonlinearity_per_mm(cubic) == pytest.approx(expected, rel=2e-5)


def test_a_straight_difference_has_its_slope_as_conicity_at_every_amplitude(
    table: ContactTable,
) -> None:
    curve = conicity(_with_difference(table, 0.2 * table.shift_mm))
    np.testing.assert_allclose(curve.value, 0.2, rtol=1e-7)  # roots near the turning points
    np.testing.assert_allclose(curve.harmonic, 0.2, rtol=1e-9)


def test_the_wave_runs_about_the_rolling_line(table: ContactTable) -> None:
    """A curve moved sideways by 1.23456 mm has the same conicity about its own line."""
    moved = conicity(
        _with_difference(table, BETA * (table.shift_mm - 1.23456) ** 3),
        amplitudes_mm=(2.0, 4.0),
    )
    assert moved.line_mm == pytest.approx(1.23456, abs=1e-3)
    np.testing.assert_allclose(moved.value, BY_PERIOD * BETA * np.array([4.0, 16.0]), rtol=1e-4)


def test_by_integrating_the_motion_of_an_uneven_curve(table: ContactTable) -> None:
    """A stiff right and a soft left side: half waves of either cone, one after the other."""
    shift = table.shift_mm
    uneven = _with_difference(table, np.where(shift > 0.0, 0.4, 0.1) * shift)
    (found,) = conicity(uneven, amplitudes_mm=(3.0,)).value
    # Half a wave in each; lengths go with 1/sqrt(conicity), so the mean of those counts.
    mean = 0.5 * (1.0 / math.sqrt(0.4) + 1.0 / math.sqrt(0.1))
    assert found == pytest.approx(1.0 / mean**2, rel=1e-6)
