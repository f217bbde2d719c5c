"""Units against the CODATA/NIST conversion factors of scipy, and against surveying tables."""

import math

import pytest
import scipy.constants as codata
from hypothesis import given
from hypothesis import strategies as st

from tapertread import units


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (units.MM_PER_INCH, codata.inch * 1000.0),
        (units.M_PER_FOOT, codata.foot),
        (units.M_PER_MILE, codata.mile),
        (units.KMH_PER_MPH, codata.mph / codata.kmh),
        (units.N_PER_LBF, codata.lbf),
        (units.KG_PER_LB, codata.lb),
        (units.KG_PER_SHORT_TON, codata.short_ton),
        (units.KG_PER_LONG_TON, codata.long_ton),
    ],
)
def test_factors_are_those_of_the_reference_library(ours, theirs):
    assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("suffix", "inside"),
    [
        ("um", 1e-3),
        ("cm", 10.0),
        ("in", codata.inch / codata.milli),
        ("ft", codata.foot),
        ("mi", codata.mile / codata.kilo),
        ("mph", codata.mph / codata.kmh),
        ("kip", 1000.0 * codata.lbf / codata.kilo),
        ("lb", codata.lb),
        ("mgt", codata.short_ton / 1000.0),
    ],
)
def test_a_suffix_converts_to_its_inside_unit(suffix, inside):
    assert units.to_inside(1.0, suffix) == pytest.approx(inside, rel=1e-12)


@pytest.mark.parametrize("suffix", sorted(units.FACTORS))
def test_the_inside_unit_of_every_suffix_is_itself_inside(suffix):
    inside, _ = units.FACTORS[suffix]
    assert units.FACTORS[inside] == (inside, 1.0)


def test_an_unknown_suffix_is_refused():
    with pytest.raises(KeyError):
        units.to_inside(1.0, "furlong")
    with pytest.raises(KeyError):
        units.shown("furlong")


# Radii by the 100 ft chord as printed in American railway field tables (recalled): ft to 0.01 ft.
FIELD_TABLE_FT = {1.0: 5729.65, 2.0: 2864.93, 4.0: 1432.69, 5.0: 1146.28, 10.0: 573.69}


@pytest.mark.parametrize(("degree", "radius_ft"), FIELD_TABLE_FT.items())
def test_the_degree_of_curve_follows_the_field_tables(degree, radius_ft):
    radius_m = units.radius_m_from_degree_of_curve(degree)
    assert radius_m / codata.foot == pytest.approx(radius_ft, abs=0.005)


def test_one_degree_is_1746_metres():
    assert units.radius_m_from_degree_of_curve(1.0) == pytest.approx(1746.40, abs=0.005)


@pytest.mark.parametrize("degree", [0.25, 1.0, 3.0, 6.0])
def test_the_rule_of_thumb_holds_for_flat_curves(degree):
    """R = 1746.40 m / D within 0.05 % up to 6°: the chord's sine against its angle."""
    radius_m = units.radius_m_from_degree_of_curve(degree)
    assert radius_m == pytest.approx(1746.40 / degree, rel=5e-4)


@given(st.floats(min_value=16.0, max_value=1e5), st.sampled_from([1.0, -1.0]))
def test_degree_and_radius_are_inverses_with_their_hand(radius_m, hand):
    degree = units.degree_of_curve_from_radius_m(hand * radius_m)
    assert math.copysign(1.0, degree) == hand
    assert units.radius_m_from_degree_of_curve(degree) == pytest.approx(hand * radius_m, rel=1e-9)


def test_a_straight_has_no_degree():
    assert units.degree_of_curve_from_radius_m(math.inf) == 0.0
    assert units.radius_m_from_degree_of_curve(0.0) == math.inf


def test_a_curve_no_chord_fits_is_refused():
    with pytest.raises(ValueError, match="180"):
        units.radius_m_from_degree_of_curve(181.0)
    with pytest.raises(ValueError, match="chord"):
        units.degree_of_curve_from_radius_m(15.0)


@pytest.mark.parametrize(
    ("value", "unit", "metric", "us"),
    [
        (28.0, "mm", "28.00 mm", "1.102 in"),
        (304.8, "m", "305 m", "1000 ft"),
        (160.9344, "kmh", "161 km/h", "100 mph"),
        (70.0, "deg", "70.0°", "70.0°"),
        (0.1777, "", "0.178", "0.178"),
        (9.0718474, "mt", "9.1 million t", "10.0 MGT"),
        (645.16, "mm2", "645 mm²", "1.00 in²"),
    ],
)
def test_a_quantity_is_shown_in_either_system(value, unit, metric, us):
    assert units.quantity(value, unit) == metric
    assert units.quantity(value, unit, system="us") == us


def test_both_systems_show_the_same_units():
    for unit in ("mm", "m", "km", "kmh", "kn", "deg", "mrad", "percent", "", "mt", "mm2", "hz"):
        for system in ("metric", "us"):
            assert units.shown(unit, system).digits >= 0


@pytest.mark.parametrize(
    ("radius_m", "metric", "us"),
    [
        (350.0, "350 m right", "5.0° right"),
        (-300.0, "300 m left", "5.8° left"),
        (math.inf, "straight", "straight"),
    ],
)
def test_a_curve_is_named_as_people_name_it(radius_m, metric, us):
    assert units.curve_text(radius_m) == metric
    assert units.curve_text(radius_m, system="us") == us
