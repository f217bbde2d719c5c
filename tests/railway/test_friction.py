"""Friction states and inclinations: data with source and status, nothing invented."""

from __future__ import annotations

import math

import pytest

from tapertread.errors import SurveyRefused
from tapertread.railway import (
    RoutePiece,
    friction_at,
    friction_state,
    friction_states,
    friction_targets,
    inclination_rad,
    inclination_slope,
)
from tapertread.sources import source


def test_every_range_has_a_source_and_an_honest_status() -> None:
    allowed = {"VERIFIED", "MEMORY", "common practice, no source"}
    for entry in [*friction_states().values(), *friction_targets().values()]:
        assert source(entry.source).key == entry.source
        assert entry.status in allowed
        assert (entry.status == "VERIFIED") == (entry.mark == "")
        assert entry.status != "MEMORY" or entry.sureness in ("high", "medium", "low")


def test_ranges_are_in_order_and_within_reason() -> None:
    for entry in friction_states().values():
        if entry.low is not None and entry.high is not None:
            assert 0.0 < entry.low < entry.high < 1.0


def test_top_of_rail_target_is_the_published_one() -> None:
    """0.3 to 0.4: Proc. IMechE F 2020, doi 10.1177/0954409720913759 (seen)."""
    target = friction_targets()["top-of-rail"]
    assert (target.low, target.high, target.status) == (0.3, 0.4, "VERIFIED")


def test_no_figure_is_invented_for_fresh_cut_surfaces() -> None:
    fresh = friction_state("fresh-cut")
    assert fresh.low is None
    assert fresh.high is None
    assert friction_state(fresh.at_least_as).high == 0.65


def test_grease_on_the_gauge_face_leaves_the_top_dry() -> None:
    assert friction_at("greased", "top") is friction_state("dry")
    assert friction_at("greased", "gauge-face").high == 0.15
    assert friction_at("top-treated", "gauge-face") is friction_state("dry")
    assert friction_at("wet", "top") is friction_state("wet")


def test_the_default_state_of_a_route_piece_exists() -> None:
    default = RoutePiece(
        line="V", track="1", from_km=0.0, to_km=1.0, kind="straight", speed_kmh=50.0
    )
    assert friction_state(default.friction_state).name == "dry"


def test_an_unknown_state_is_refused_with_the_names() -> None:
    with pytest.raises(SurveyRefused, match="leaf-film") as caught:
        friction_state("slippery")
    assert caught.value.code == "unknown-friction-state"


def test_inclinations_as_railways_write_them() -> None:
    assert inclination_slope("1:40") == pytest.approx(0.025)
    assert inclination_slope(" 1 : 20 ") == pytest.approx(0.05)
    assert inclination_slope("upright") == 0.0
    assert inclination_rad("1:20") == pytest.approx(math.atan(0.05))


@pytest.mark.parametrize("text", ["40", "1:0", "1:2", "1/40", "", "1:-40", "nan", "40:1"])
def test_other_inclinations_are_refused(text: str) -> None:
    with pytest.raises(SurveyRefused, match="inclination-unreadable"):
        inclination_slope(text)
