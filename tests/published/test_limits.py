"""Limits against the published texts, and formulas against the tables printed beside them.

The rows below repeat the sources independently of ``data/limits``: inches and fractions as the US
text has them, millimetres as the European texts have them. Rows marked MEMORY were recalled and not
seen; they guard against a slip of the hand, not against a wrong memory.
"""

from fractions import Fraction

import pytest

from tapertread.limits import (
    Word,
    curve_speed_kmh,
    curve_speed_mph,
    equilibrium_cant_mm,
    judge,
    limit_set,
)
from tapertread.shapes.measured import Measured

US = limit_set("us-federal")
EU = limit_set("eu-in-service")
EBO = limit_set("de-ebo")

# 49 CFR 213.53(b) and 213.323(b), annual edition 2015, seen: gauge 5/8 in below the top, in inches.
GAUGE_BY_CLASS = {
    "1": ("56", "58"),
    "2": ("56", "57 3/4"),
    "3": ("56", "57 3/4"),
    "4": ("56", "57 1/2"),
    "5": ("56", "57 1/2"),
    "6": ("56", "57 1/4"),
    "7": ("56", "57 1/4"),
    "8": ("56", "57 1/4"),
    "9": ("56 1/4", "57 1/4"),
}

# 49 CFR 213.9(a), annual edition 2015, seen: mph for freight and passenger trains.
SPEED_BY_CLASS = {"1": (10, 15), "2": (25, 30), "3": (40, 60), "4": (60, 80), "5": (80, 90)}

# 49 CFR 213.143, annual edition 2015, seen: guard check not less, guard face not more, inches.
GUARD_BY_CLASS = {
    "1": ("54 1/8", "53 1/4"),
    "2": ("54 1/4", "53 1/8"),
    "3": ("54 3/8", "53 1/8"),
    "4": ("54 3/8", "53 1/8"),
    "5": ("54 1/2", "53"),
}


def mm(inches: str) -> float:
    """Return inches written with a fraction in mm, exactly."""
    return float(sum(Fraction(part) for part in inches.split()) * Fraction(254, 10))


def limits_of(choice):
    return sorted(limit.value for limit in choice if limit.level == "limit")


@pytest.mark.parametrize(("track_class", "row"), GAUGE_BY_CLASS.items())
def test_us_gauge_by_class(track_class, row):
    chosen = limits_of(US.for_quantity("gauge_mm", track_class=track_class))
    assert chosen == pytest.approx([mm(inches) for inches in row], abs=1e-9)


def test_excepted_track_has_only_a_largest_gauge():
    chosen = limits_of(US.for_quantity("gauge_mm", track_class="excepted"))
    assert chosen == pytest.approx([mm("58 1/4")], abs=1e-9)


@pytest.mark.parametrize(("track_class", "row"), SPEED_BY_CLASS.items())
def test_us_speeds_by_class(track_class, row):
    for traffic, mph in zip(("freight", "passenger"), row, strict=True):
        assert US.track_class(mph * 1.609344, traffic=traffic) == track_class
        assert US.track_class((mph + 0.1) * 1.609344, traffic=traffic) != track_class


@pytest.mark.parametrize(("track_class", "row"), GUARD_BY_CLASS.items())
def test_us_guard_check_and_face_by_class(track_class, row):
    check = limits_of(US.for_quantity("guard_check_mm", track_class=track_class))
    face = limits_of(US.for_quantity("guard_face_mm", track_class=track_class))
    assert [*check, *face] == pytest.approx([mm(inches) for inches in row], abs=1e-9)


# 49 CFR 215.103, 229.75 and 238.303(e)(8), annual edition 2015, seen: inches, and whether the text
# makes the value itself a defect ("or less", "or more") or not ("less than", "more than").
US_WHEELS = [
    ("flange_thickness_us_mm", "freight", None, "7/8", "or less"),
    ("flange_height_mm", "freight", None, "1 1/2", "or more"),
    ("rim_thickness_mm", "freight", None, "11/16", "or less"),
    ("flat_length_mm", "freight", None, "2 1/2", "more than"),
    ("flange_thickness_us_mm", "locomotive", None, "7/8", "or less"),
    ("flange_height_mm", "locomotive", None, "1 1/2", "or more"),
    ("tread_hollow_mm", "locomotive", "road", "5/16", "or more"),
    ("tread_hollow_mm", "locomotive", "switching", "3/8", "or more"),
    ("rim_thickness_mm", "locomotive", "road", "1", "less than"),
    ("rim_thickness_mm", "locomotive", "switching", "3/4", "less than"),
    ("flat_length_mm", "locomotive", None, "2 1/2", "or more"),
    ("flange_thickness_us_mm", "coach", None, "7/8", "or less"),
    ("tread_hollow_mm", "coach", None, "5/16", "or more"),
    ("flange_height_mm", "coach", None, "1 1/2", "or more"),
    ("rim_thickness_mm", "coach", None, "1", "less than"),
]


@pytest.mark.parametrize(("quantity", "kind", "service", "inches", "wording"), US_WHEELS)
def test_us_wheel_limits_with_their_wording(quantity, kind, service, inches, wording):
    chosen = US.for_quantity(quantity, vehicle_kind=kind, service=service)
    at_limit = judge(Measured(value=mm(inches), unit="mm", uncertainty=0.0), chosen)
    beyond = 0.001 if wording in ("or more", "more than") else -0.001
    past = judge(Measured(value=mm(inches) + beyond, unit="mm", uncertainty=0.0), chosen)
    before = judge(Measured(value=mm(inches) - beyond, unit="mm", uncertainty=0.0), chosen)
    assert (at_limit.word is Word.OUT) == wording.startswith("or ")
    assert past.word is Word.OUT
    assert before.word is not Word.OUT


def test_us_diameters_follow_from_two_tape_sizes():
    """229.73(a): circumferences within 1/4 in, so diameters within 2.02 mm."""
    chosen = US.for_quantity("diameter_difference_mm", vehicle_kind="locomotive")
    assert chosen[0].value == pytest.approx(6.35 / 3.14159265, abs=1e-6)


# EBO section 5(3), 5(4), state of 2012, seen: smallest gauge by curve radius.
@pytest.mark.parametrize(
    ("radius_m", "smallest"),
    [(100, 1445), (124.9, 1445), (125, 1440), (150, 1435), (174.9, 1435), (175, 1430), (1e9, 1430)],
)
def test_ebo_gauge_by_radius(radius_m, smallest):
    chosen = EBO.for_quantity("gauge_mm", radius_m=radius_m)
    assert limits_of(chosen) == [smallest, 1465.0]


def test_ebo_says_nothing_below_100_m():
    chosen = EBO.for_quantity("gauge_mm", radius_m=99.0)
    assert limits_of(chosen) == [1465.0]


# TSI LOC&PAS 1302/2014 tables 4.2.3.5.2.1 and .2, MEMORY (high): by wheel diameter,
# flange thickness, flange height, active flange spacing, back-to-back.
TSI_BY_DIAMETER = {
    330.0: ((27.5, 33.0), (31.5, 36.0), (1415.0, 1426.0), (1359.0, 1363.0)),
    630.0: ((27.5, 33.0), (31.5, 36.0), (1415.0, 1426.0), (1359.0, 1363.0)),
    760.0: ((27.5, 33.0), (29.5, 36.0), (1415.0, 1426.0), (1359.0, 1363.0)),
    840.0: ((25.0, 33.0), (27.5, 36.0), (1412.0, 1426.0), (1358.0, 1363.0)),
    920.0: ((22.0, 33.0), (27.5, 36.0), (1410.0, 1426.0), (1357.0, 1363.0)),
}


@pytest.mark.parametrize(("diameter_mm", "row"), TSI_BY_DIAMETER.items())
def test_tsi_wheelset_dimensions(diameter_mm, row):
    names = (
        "flange_thickness_mm",
        "flange_height_mm",
        "active_flange_spacing_mm",
        "back_to_back_mm",
    )
    for name, ends in zip(names, row, strict=True):
        chosen = EU.for_quantity(name, diameter_mm=diameter_mm, vehicle_kind="freight")
        assert limits_of(chosen) == list(ends)
        assert {limit.status for limit in chosen if limit.level == "limit"} == {"MEMORY"}


def test_the_new_standard_wheelset_is_sound():
    """S1002 new: 28 / 32.5 / 10.79 mm, back-to-back 1360 mm (EN 13715 and UIC 510-2, MEMORY)."""
    new = {
        "flange_height_mm": 28.0,
        "flange_thickness_mm": 32.5,
        "flange_slope_mm": 10.79,
        "back_to_back_mm": 1360.0,
        "active_flange_spacing_mm": 1425.0,
    }
    for name, value in new.items():
        chosen = EU.for_quantity(name, diameter_mm=920.0, vehicle_kind="coach")
        verdict = judge(Measured(value=value, unit="mm", uncertainty=0.1), chosen)
        assert verdict.word is Word.SOUND, name


# TSI INF 1299/2014 4.2.11.2, MEMORY (medium): speed → conicity for joint investigation.
@pytest.mark.parametrize(
    ("speed_kmh", "conicity"), [(61, 0.40), (200, 0.40), (230, 0.35), (250, 0.30), (280, 0.25)]
)
def test_tsi_conicity_in_service(speed_kmh, conicity):
    chosen = EU.for_quantity("equivalent_conicity", speed_kmh=speed_kmh)
    assert [limit.value for limit in chosen] == [conicity]
    assert chosen[0].level == "act"


# TSI INF 1299/2014 4.2.8.4, MEMORY (medium): immediate action limits of gauge by speed.
@pytest.mark.parametrize(
    ("speed_kmh", "ends"),
    [(120, [1426, 1470]), (160, [1427, 1470]), (230, [1428, 1463]), (300, [1430, 1463])],
)
def test_tsi_gauge_immediate_action(speed_kmh, ends):
    assert limits_of(EU.for_quantity("gauge_mm", speed_kmh=speed_kmh)) == ends


def test_the_cant_constant_is_that_of_1500_mm():
    """11.8 = 1500/(9.81 x 3.6²) to its three digits; 8.9 or so would be 1067 mm gauge."""
    assert equilibrium_cant_mm(speed_kmh=100.0, radius_m=1000.0) == pytest.approx(
        1500.0 / (9.81 * 3.6**2) * 10.0, abs=0.05
    )


def test_ebo_curve_speed():
    """EBO 40(7): 300 m with 150 mm cant and 150 mm deficiency, by hand sqrt(300 x 300/11.8)."""
    speed = curve_speed_kmh(radius_m=300.0, cant_mm=150.0, deficiency_mm=150.0)
    assert speed == pytest.approx(87.33, abs=0.01)


# 49 CFR 213 Appendix A Table 1 (3 in of unbalance), whole mph, MEMORY:
# (degree, elevation in inches) → mph.
TABLE_1 = {
    (0.5, 0.0): 93,
    (0.5, 0.5): 100,
    (0.5, 1.0): 107,
    (0.5, 2.0): 120,
    (0.5, 3.0): 131,
    (0.5, 6.0): 160,
}


@pytest.mark.parametrize(("cell", "mph"), TABLE_1.items())
def test_us_curve_speeds_follow_the_printed_table(cell, mph):
    degree, elevation = cell
    speed = curve_speed_mph(curve_deg=degree, cant_in=elevation, deficiency_in=3.0)
    assert abs(speed - mph) <= 0.5
