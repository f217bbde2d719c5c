"""Speed, radius and cant: signs, inverses, and the balance of forces they stand for."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapertread.limits import (
    cant_deficiency_mm,
    curve_speed_kmh,
    curve_speed_mph,
    equilibrium_cant_mm,
)
from tapertread.units import degree_of_curve_from_radius_m

speeds = st.floats(min_value=5.0, max_value=350.0)
radii = st.floats(min_value=100.0, max_value=20000.0)


@given(speeds, radii)
def test_the_speed_at_equilibrium_cant_without_deficiency_is_the_speed(speed, radius):
    cant = equilibrium_cant_mm(speed_kmh=speed, radius_m=radius)
    back = curve_speed_kmh(radius_m=radius, cant_mm=cant, deficiency_mm=0.0)
    assert back == pytest.approx(speed)


@given(speeds, radii)
def test_cant_balances_weight_and_centrifugal_force(speed, radius):
    """Small-angle balance h/s = v²/(g R), s 1500 mm; 11.8 is rounded from 11.798 (0.02 %)."""
    balance = 1500.0 * (speed / 3.6) ** 2 / (9.81 * radius)
    assert equilibrium_cant_mm(speed_kmh=speed, radius_m=radius) == pytest.approx(balance, rel=5e-4)


def test_left_and_right_curves_need_the_same_cant_and_a_straight_none():
    left = equilibrium_cant_mm(speed_kmh=80.0, radius_m=-300.0)
    assert left == equilibrium_cant_mm(speed_kmh=80.0, radius_m=300.0)
    assert equilibrium_cant_mm(speed_kmh=80.0, radius_m=math.inf) == 0.0


def test_too_much_cant_is_a_negative_deficiency():
    excess = cant_deficiency_mm(speed_kmh=0.0, radius_m=300.0, cant_mm=120.0)
    assert excess == -120.0


def test_both_rules_agree_on_the_same_curve():
    """European form against the US form, 4 in and 3 in on 1746.40 m.

    The balance over 1500 mm gives 0.000689 where the US rule has 0.0007, so its speed is lower
    by 0.8 %.
    """
    degree = degree_of_curve_from_radius_m(1746.40)
    us = curve_speed_mph(curve_deg=degree, cant_in=4.0, deficiency_in=3.0) * 1.609344
    eu = curve_speed_kmh(radius_m=1746.40, cant_mm=101.6, deficiency_mm=76.2)
    assert us == pytest.approx(eu, rel=0.01)
    assert us < eu


@pytest.mark.parametrize("radius", [0.0, math.nan])
def test_no_curve_no_cant(radius):
    with pytest.raises(ValueError, match="curve radius"):
        equilibrium_cant_mm(speed_kmh=80.0, radius_m=radius)


def test_less_than_no_cant_has_no_speed():
    with pytest.raises(ValueError, match="together"):
        curve_speed_kmh(radius_m=300.0, cant_mm=-200.0, deficiency_mm=50.0)
    with pytest.raises(ValueError, match="together"):
        curve_speed_mph(curve_deg=0.0, cant_in=4.0, deficiency_in=3.0)
