"""Everything of one pairing together; bands of gauge and inclination."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tapertread.contact import (
    Pairing,
    contact_table,
    finite_or_none,
    flange_contact,
    gauge_sweep,
    inclination_sweep,
    pair_up,
    refined_conicity,
    rolling_lines,
    standard_amplitude_mm,
    steering_reach,
)


@pytest.fixture(scope="module")
def pairing(shapes: Any) -> Pairing:
    return pair_up(shapes.wheelset("S1002"), shapes.track("60E1"))


def test_a_pairing_is_what_its_parts_are(pairing: Pairing) -> None:
    table = pairing.table
    assert pairing.lines == rolling_lines(table)
    assert pairing.flange == flange_contact(table)
    assert pairing.reach.right.tread_mm == steering_reach(table).right.tread_mm
    np.testing.assert_array_equal(pairing.conicity.value, refined_conicity(table).value)


def test_clearance_is_gauge_less_flange_spacing(pairing: Pairing) -> None:
    assert pairing.clearance_mm == pytest.approx(10.0, abs=1e-3)  # 1435 - 1425 mm
    assert pairing.standard_amplitude_mm == 3.0
    assert pairing.standard_conicity == pairing.conicity.value[2]


def test_a_tight_gauge_lowers_the_amplitude(shapes: Any) -> None:
    tight = pair_up(shapes.wheelset("S1002"), shapes.track("60E1", gauge_mm=1431.0))
    assert tight.clearance_mm is not None
    assert tight.standard_amplitude_mm == standard_amplitude_mm(tight.clearance_mm)
    assert tight.standard_amplitude_mm == pytest.approx(2.5, abs=0.02)
    two, three = tight.conicity.value[1:3]
    assert min(two, three) <= tight.standard_conicity <= max(two, three)


def test_nonlinearity_of_s1002_is_negative(pairing: Pairing) -> None:
    """Conicity falls from 0.221 at 2 mm to 0.159 at 4 mm: -0.031 per mm [polach-2010]."""
    assert pairing.nonlinearity_per_mm == pytest.approx(0.5 * (0.159 - 0.221), abs=0.002)


def test_without_flanges_the_amplitude_is_3_mm(shapes: Any) -> None:
    pairing = pair_up(shapes.wheelset("cone-steep-no-flange"), shapes.track("60E1"))
    assert pairing.clearance_mm is None
    assert pairing.standard_amplitude_mm == 3.0


def test_gauge_sweep(shapes: Any) -> None:
    """A wider gauge lets the contact wander to where the tread is flatter."""
    gauges = [1433.0, 1435.0, 1438.0]
    band = gauge_sweep(shapes.wheelset("S1002"), shapes.track("60E1"), gauges_mm=gauges)
    np.testing.assert_array_equal(band.values, gauges)
    assert band.conicity[1] == pytest.approx(0.177, abs=0.002)
    for i, gauge in enumerate(gauges):
        alone = contact_table(shapes.wheelset("S1002"), shapes.track("60E1", gauge_mm=gauge))
        reach = steering_reach(alone)
        assert band.tread_difference_mm[i] == min(reach.left.tread_mm, reach.right.tread_mm)
    assert band.conicity[0] > band.conicity[1] > band.conicity[2]


def test_inclination_sweep(shapes: Any) -> None:
    band = inclination_sweep(
        shapes.wheelset("S1002"), shapes.track("60E1"), inclinations=[1.0 / 40.0, 1.0 / 20.0]
    )
    assert band.conicity[0] == pytest.approx(0.177, abs=0.002)
    assert band.conicity[1] == pytest.approx(0.0095, abs=0.0002)


def test_inclination_does_not_touch_a_rail_measured_in_the_track(shapes: Any) -> None:
    rail = replace(shapes.track("60E1").right, frame="track-plane")
    band = inclination_sweep(
        shapes.wheelset("cone-1-40"), shapes.track(rail), inclinations=[0.0, 1.0 / 40.0, 0.05]
    )
    assert np.ptp(band.conicity) == 0.0


@pytest.mark.parametrize(
    ("value", "expected"), [(1.5, 1.5), (math.nan, None), (math.inf, None), (None, None)]
)
def test_finite_or_none(value: float | None, expected: float | None) -> None:
    assert finite_or_none(value) == expected
