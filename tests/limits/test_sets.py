"""Choosing limits by quantity and conditions."""

import math

import pytest

from tapertread.limits import Limit, limit_set, limit_set_names, together
from tapertread.limits.rows import HOUSE_STATUS
from tapertread.sources import STATUSES, source
from tapertread.units import KMH_PER_MPH

EU = limit_set("eu-in-service")
US = limit_set("us-federal")


def value_of(choice, name):
    return next(limit.value for limit in choice if limit.id == name)


@pytest.mark.parametrize(
    ("diameter_mm", "lowest"), [(330.0, 27.5), (760.0, 27.5), (761.0, 25.0), (841.0, 22.0)]
)
def test_flange_thickness_follows_the_diameter_class(diameter_mm, lowest):
    choice = EU.for_quantity("flange_thickness_mm", diameter_mm=diameter_mm, vehicle_kind="coach")
    limits = [limit for limit in choice if limit.level == "limit"]
    assert [limit.value for limit in limits if limit.is_lower] == [lowest]
    assert [limit.value for limit in limits if not limit.is_lower] == [33.0]
    assert not choice.why_not


def test_missing_diameter_is_asked_for_by_name():
    choice = EU.for_quantity("flange_thickness_mm", vehicle_kind="coach")
    assert len(choice) == 0
    assert choice.needs == ("diameter_mm",)
    assert choice.why_not == "needs the wheel diameter"


def test_two_missing_conditions_are_both_named():
    choice = EU.for_quantity("flange_thickness_mm")
    assert choice.why_not == "needs the wheel diameter and the kind of vehicle"


def test_a_tram_is_told_why_it_has_no_limit():
    choice = EU.for_quantity("flange_thickness_mm", diameter_mm=660.0, vehicle_kind="tram")
    assert not choice.limits
    assert "owner" in choice.why_not


def test_conicity_at_low_speed_is_outside_the_rule_and_says_so():
    slow = EU.for_quantity("equivalent_conicity", speed_kmh=60.0)
    assert not slow.limits
    assert "60 km/h" in slow.why_not
    assert [limit.value for limit in EU.for_quantity("equivalent_conicity", speed_kmh=60.1)] == [
        0.4
    ]


def test_a_quantity_nobody_limits_says_so():
    assert "wear_of_moon_mm" in EU.for_quantity("wear_of_moon_mm").why_not


def test_the_sign_of_a_radius_does_not_matter():
    ebo = limit_set("de-ebo")
    left = ebo.for_quantity("gauge_mm", radius_m=-160.0)
    right = ebo.for_quantity("gauge_mm", radius_m=160.0)
    assert left == right
    assert value_of(left, "ebo-gauge-min-radius-150") == 1435.0


def test_side_wear_of_a_straight_differs_from_a_curve():
    wear = limit_set("rail-wear-example")
    curve = wear.for_quantity("side_wear_mm", radius_m=-400.0)
    straight = wear.for_quantity("side_wear_mm", radius_m=math.inf)
    assert value_of(curve, "rail-side-wear-act-curve") == 8.0
    assert value_of(straight, "rail-side-wear-act-straight") == 6.0


@pytest.mark.parametrize(
    ("mph", "traffic", "track_class"),
    [
        (10.0, "freight", "1"),
        (10.001, "freight", "2"),
        (40.0, "freight", "3"),
        (40.0, "passenger", "3"),
        (30.0, "passenger", "2"),
        (80.0, "freight", "5"),
        (80.0, "passenger", "4"),
        (90.0, "passenger", "5"),
        (90.001, "passenger", None),
    ],
)
def test_the_class_follows_from_speed_and_traffic(mph, traffic, track_class):
    assert US.track_class(mph * KMH_PER_MPH, traffic=traffic) == track_class


def test_gauge_by_class_and_by_the_class_that_the_speed_asks_for():
    by_class = US.for_quantity("gauge_mm", track_class="4")
    by_speed = US.for_quantity("gauge_mm", speed_kmh=60 * KMH_PER_MPH, traffic="freight")
    assert by_class == by_speed
    assert value_of(by_class, "us-gauge-max-class-4-5") == pytest.approx(1460.5)


def test_speed_without_traffic_does_not_settle_a_class():
    choice = US.for_quantity("gauge_mm", speed_kmh=60.0)
    assert choice.needs == ("track_class",)
    assert "traffic" in choice.why_not


def test_a_speed_beyond_every_class_held_is_not_silently_given_the_last_one():
    choice = US.for_quantity("gauge_mm", speed_kmh=200.0, traffic="passenger")
    assert not choice.limits
    assert choice.needs == ("track_class",)


def test_share_levels_start_from_the_design_s_own_new_value():
    conditions = {"diameter_mm": 920.0, "vehicle_kind": "coach"}
    usual = EU.for_quantity("flange_thickness_mm", **conditions)
    thin = EU.for_quantity("flange_thickness_mm", new_value=28.5, **conditions)
    name = "eu-flange-thickness-min-over-840-watch"
    assert value_of(usual, name) == pytest.approx(32.5 - 0.7 * 10.5)
    assert value_of(thin, name) == pytest.approx(28.5 - 0.7 * 6.5)


def test_a_design_beyond_the_limit_when_new_has_no_level_ahead_of_it():
    thin = EU.for_quantity(
        "flange_thickness_mm", new_value=21.0, diameter_mm=920.0, vehicle_kind="coach"
    )
    assert {limit.level for limit in thin} == {"limit"}


@pytest.mark.parametrize("name", limit_set_names())
def test_every_limit_carries_edition_clause_status_and_source(name):
    for limit in limit_set(name):
        assert limit.edition
        assert limit.clause
        assert limit.status in STATUSES
        assert (limit.status == "MEMORY") == bool(limit.confidence), limit.id
        assert source(limit.source).status
        assert math.isfinite(limit.value)


@pytest.mark.parametrize("name", limit_set_names())
def test_no_limit_stands_higher_than_its_source(name):
    for limit in limit_set(name):
        if limit.status == "VERIFIED":
            assert source(limit.source).status == "VERIFIED", limit.id


@pytest.mark.parametrize("name", limit_set_names())
def test_house_levels_are_marked_and_lie_ahead_of_their_limit_in_order(name):
    levels: dict[str, dict[str, Limit]] = {}
    for limit in limit_set(name):
        if limit.toward is not None:
            assert limit.status == HOUSE_STATUS
            assert "override me" in limit.edition
            levels.setdefault(limit.toward.id, {})[limit.level] = limit
    for pair in levels.values():
        for level in pair.values():
            assert level.toward is not None
            assert level.toward.margin(level.value) > 0.0
        if len(pair) == 2:
            assert pair["act"].margin(pair["watch"].value) > 0.0


def test_sets_together_hold_every_limit_of_each():
    both = together([limit_set("de-ebo"), EU])
    gauge = both.for_quantity("gauge_mm", radius_m=500.0, speed_kmh=100.0)
    assert {"ebo-gauge-max-main", "eu-gauge-max-to-120"} <= {limit.id for limit in gauge}
    assert both.gauge_rule == "smallest-0-14-mm"
    assert both.limit("eu-flange-slope-min").value == 6.5


def test_one_set_together_is_itself():
    assert together([EU]) is EU


def test_a_choice_is_a_sequence_of_its_limits():
    choice = EU.for_quantity("cant_mm")
    assert len(choice) == 1
    assert choice[0].id == "eu-cant-max"
    assert choice[0:1] == (choice[0],)
    assert list(choice) == [choice[0]]
    assert "cant_mm" in EU.quantities
