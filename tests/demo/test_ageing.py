"""Both campaigns: wear only grows, but for what was maintained; gauge and wheelsets fit."""

from datetime import date

import numpy as np
import pytest

from tapertread.demo import DemoTruth, demo_truth
from tapertread.demo.ageing_rails import SIDES
from tapertread.demo.plan import read_plan
from tapertread.demo.truth import RailTruth, WheelTruth

GROWS_WHEEL = ("tread_mm", "flange_mm", "back_mm")
GROWS_RAIL = ("top_mm", "side_mm", "flat_mm")


def _pairs(truth: DemoTruth) -> list[tuple[str, WheelTruth, WheelTruth, str]]:
    first, second = truth.campaigns
    return [
        (f"{name} {side}", truth.wheelsets[name, first].wheel(side), after.wheel(side), after.event)
        for (name, campaign), after in truth.wheelsets.items()
        if campaign == second
        for side in SIDES
    ]


def _rail_pairs(truth: DemoTruth) -> list[tuple[str, RailTruth, RailTruth]]:
    first, second = truth.campaigns
    return [
        (f"{name} {side}", truth.sections[name, first].rail(side), after.rail(side))
        for (name, campaign), after in truth.sections.items()
        if campaign == second
        for side in SIDES
    ]


@pytest.mark.parametrize("which", ["main", "us"])
def test_wheel_wear_grows_unless_turned(which: str, request: pytest.FixtureRequest) -> None:
    truth: DemoTruth = request.getfixturevalue(f"{which}_truth")
    for label, before, after, event in _pairs(truth):
        assert after.diameter_mm < before.diameter_mm, label
        if event == "turned":
            assert after.wear.tread_mm < before.wear.tread_mm, label
            continue
        for name in GROWS_WHEEL:
            assert getattr(after.wear, name) >= getattr(before.wear, name), (label, name)
        assert after.measures["flange_height_mm"] > before.measures["flange_height_mm"], label


@pytest.mark.parametrize("which", ["main", "us"])
def test_rail_wear_grows_unless_renewed(which: str, request: pytest.FixtureRequest) -> None:
    truth: DemoTruth = request.getfixturevalue(f"{which}_truth")
    for label, before, after in _rail_pairs(truth):
        if after.event == "renewed":
            assert after.measures["side_wear_mm"] < before.measures["side_wear_mm"], label
            continue
        for name in GROWS_RAIL:
            assert getattr(after.wear, name) >= getattr(before.wear, name), (label, name)
        assert after.measures["vertical_wear_mm"] >= before.measures["vertical_wear_mm"], label
        assert after.measures["head_area_loss_percent"] > before.measures[
            "head_area_loss_percent"
        ] - 0.5 * (after.wear.lip_mm > 0.0), label


def test_maintenance_happened_to_the_planned_assets_only(main_truth: DemoTruth) -> None:
    work = read_plan("main").maintenance
    turned = {name for (name, _), one in main_truth.wheelsets.items() if one.event == "turned"}
    assert turned == set(work.turned)
    events = {
        (name, side, one.rail(side).event)
        for (name, _), one in main_truth.sections.items()
        for side in SIDES
        if one.rail(side).event
    }
    ground = {(name, side, "ground") for name in work.ground for side in SIDES}
    assert events == ground | {("Q107", "right", "renewed")}


def test_turned_wheels_are_round_pairs_again(main_truth: DemoTruth) -> None:
    for one in main_truth.wheelsets.values():
        if one.event == "turned":
            assert abs(one.diameter_difference_mm) < 0.02
            assert one.left.measures["flange_thickness_mm"] > 31.5


@pytest.mark.parametrize("which", ["main", "us"])
def test_every_wheelset_fits_into_every_gauge(which: str, request: pytest.FixtureRequest) -> None:
    truth: DemoTruth = request.getfixturevalue(f"{which}_truth")
    widest = max(one.active_flange_spacing_mm for one in truth.wheelsets.values())
    narrowest = min(one.gauge_mm for one in truth.sections.values())
    assert widest + 4.0 < narrowest


@pytest.mark.parametrize("which", ["main", "us"])
def test_worn_faces_are_steep_and_no_measure_is_missing(
    which: str, request: pytest.FixtureRequest
) -> None:
    truth: DemoTruth = request.getfixturevalue(f"{which}_truth")
    for wheelset in truth.wheelsets.values():
        for side in SIDES:
            measures = wheelset.wheel(side).measures
            assert 69.9 < measures["flange_angle_deg"] < 85.0, wheelset.wheelset
            assert np.isfinite(list(measures.values())).all()
    for section in truth.sections.values():
        for side in SIDES:
            measures = section.rail(side).measures
            assert 69.0 < measures["gauge_face_angle_deg"] < 110.0, section.section
            assert np.isfinite(list(measures.values())).all()


def test_gauge_opens_by_the_side_wear_of_the_high_rail(main_truth: DemoTruth) -> None:
    """European gauge lies within 14 mm below the plane: a face cut s deep there opens it by s.

    The lean of the worn rail and the worn top move the line by a few tenths of a millimetre.
    """
    laid = {one.id: one.gauge_mm for one in read_plan("main").section}
    for (name, _), one in main_truth.sections.items():
        outer = [rail for rail in (one.left, one.right) if rail.role == "outer"]
        if outer and outer[0].wear.side_mm > 3.0:
            opened = one.gauge_mm - laid[name]
            assert opened == pytest.approx(outer[0].measures["side_wear_mm"], abs=1.3), name


def test_the_outer_rail_of_each_curve_is_the_one_cut(main_truth: DemoTruth) -> None:
    for one in main_truth.sections.values():
        if one.curvature_per_m > 1.0 / 1000.0:
            assert (one.left.role, one.right.role) == ("outer", "inner")
        if one.curvature_per_m < -1.0 / 1000.0:
            assert (one.left.role, one.right.role) == ("inner", "outer")


def test_scatter_differs_between_seeds_but_stays_near(main_truth: DemoTruth) -> None:
    other = demo_truth("main", seed=5)
    here = np.array([one.left.wear.tread_mm for one in main_truth.wheelsets.values()])
    there = np.array([one.left.wear.tread_mm for one in other.wheelsets.values()])
    assert not np.allclose(here, there)
    assert np.median(there / here) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("which", ["main", "us"])
def test_campaigns_lie_a_year_apart(which: str) -> None:
    plan = read_plan(which)  # type: ignore[arg-type]
    first, second = (date.fromisoformat(one.date) for one in plan.campaign)
    assert 355 <= (second - first).days <= 375
    assert first < date.fromisoformat(plan.maintenance.turned_on) < second


def test_the_story_has_its_extremes(main_truth: DemoTruth) -> None:
    """Limits from memory: thickness 22 mm and slope 6.5 mm of EN 15313 above 840 mm diameter."""
    last = main_truth.campaigns[1]

    def wheel(name: str, side: str) -> dict[str, float]:
        return main_truth.wheelsets[name, last].wheel(side).measures  # type: ignore[arg-type]

    assert wheel("SQ05-2", "left")["flange_thickness_mm"] < 21.8
    assert wheel("SQ04-2", "left")["flange_slope_mm"] < 6.3
    assert wheel("BR02-1", "left")["tread_hollow_mm"] > 3.0
    lean = [wheel("SQ03-1", side)["flange_thickness_mm"] for side in SIDES]
    assert lean[1] - lean[0] > 5.0
    assert main_truth.wheelsets["SQ06-3", last].diameter_difference_mm == pytest.approx(
        1.5, abs=0.2
    )
    assert main_truth.sections["Q114", last].left.measures["side_wear_mm"] > 14.3
    assert main_truth.sections["Q130", last].gauge_mm < 1433.0


def test_about_half_the_wheels_are_healthy(main_truth: DemoTruth) -> None:
    last = main_truth.campaigns[1]
    wheelsets = [one for (_, when), one in main_truth.wheelsets.items() if when == last]
    healthy = [
        one
        for one in wheelsets
        if abs(one.diameter_difference_mm) < 0.4
        and all(
            wheel.measures["tread_hollow_mm"] < 1.5 and wheel.measures["flange_thickness_mm"] > 31.0
            for wheel in (one.left, one.right)
        )
    ]
    assert len(wheelsets) == 60
    assert 0.4 < len(healthy) / len(wheelsets) < 0.85
