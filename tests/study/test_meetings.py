"""Who meets whom."""

import math

import pytest

from tapertread.railway import RoutePiece, Service
from tapertread.shapes import design
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.inspect import measure_outline
from tapertread.study.crew import Crew
from tapertread.study.meetings import NEW, crossing, lines_of, new_outline, sections_of
from tapertread.study.states import SectionOnHand, WheelsetOnHand


def silent(_stage, _done, _of):
    """Tell nobody."""


@pytest.fixture(scope="module")
def measured():
    """Return new outlines as measured: a wheel and a rail."""
    return {
        kind: measure_outline(
            design(name).resampled(0.5), kind=kind, design=design_drawing(name), datum="given"
        )
        for kind, name in (("wheel", "S1002"), ("rail", "60E1"))
    }


@pytest.fixture
def wheelset(vehicle, wheelset_record, measured):
    def make(name="W1", sides=None, **changed):
        wheel = measured["wheel"]
        return WheelsetOnHand(
            record=wheelset_record(wheelset=name),
            vehicle=vehicle(**changed),
            sides={"left": wheel, "right": wheel} if sides is None else sides,
        )

    return make


@pytest.fixture
def section(section_record, measured):
    def make(name="S1", line="L", radius_m=math.inf, sides=None, **changed):
        rail = measured["rail"]
        piece = RoutePiece(
            line=line, track="1", from_km=0.0, to_km=5.0, kind="straight", speed_kmh=160.0
        )
        return SectionOnHand(
            record=section_record(section=name, line=line, **changed),
            piece=piece,
            sides={"left": rail, "right": rail} if sides is None else sides,
            curve_radius_m=radius_m,
        )

    return make


def crossed(wheelsets, sections, services):
    return crossing(
        wheelsets,
        sections,
        services=services,
        gauge_rule="smallest-0-14-mm",
        crew=Crew(1),
        progress=silent,
    )


RUNS = Service(fleet="F", line="L", share=0.6)


def test_a_wheelset_meets_the_sections_of_its_fleets_lines_only(wheelset, section):
    here, elsewhere = section("S1"), section("S2", line="other")
    services = [RUNS, Service(fleet="G", line="other", share=1.0)]
    assert sections_of(wheelset(), [here, elsewhere], services=services) == [here]
    assert lines_of(wheelset(), services) == {"L"}


def test_a_share_of_nothing_is_no_service(wheelset, section):
    services = [Service(fleet="F", line="L", share=0.0)]
    assert sections_of(wheelset(), [section()], services=services) == []
    assert crossed([wheelset()], [section()], services).nowhere == {"W1"}


@pytest.mark.parametrize(("orientation", "ways"), [("known", 1), ("reversible", 2), ("unknown", 2)])
def test_either_way_round_is_met_unless_it_is_known(wheelset, section, orientation, ways):
    met = crossed([wheelset(orientation=orientation)], [section()], [RUNS])
    turned = [one.turned for one in met.by_wheelset["W1"]]
    assert turned == [False, True][:ways]
    assert met.by_section["S1"] == met.by_wheelset["W1"]


def test_new_wheels_and_new_rails_are_met_beside_the_measured_ones(wheelset, section):
    met = crossed([wheelset()], [section(radius_m=400.0)], [RUNS])
    assert met.new_wheels["S1002", "S1"].wheelset == f"{NEW}S1002"
    new = met.all_new["S1002", "S1"].steering
    measured = met.by_wheelset["W1"][0].steering
    step = 0.1  # the end of the tread lies between two shifts, 1/16 mm apart, at 1.3 mm per mm
    assert measured.available_tread_mm == pytest.approx(new.available_tread_mm, abs=step)


def test_a_wheelset_without_an_outline_meets_nobody(wheelset, section, measured):
    one = wheelset(sides={"left": measured["wheel"], "right": None})
    met = crossed([one], [section()], [RUNS])
    assert not met.by_wheelset
    assert met.nowhere == frozenset()
    assert one.why_no_shape() == "no right outline was measured"


def test_a_section_without_an_outline_is_met_by_nobody(wheelset, section, measured):
    one = section(sides={"left": None, "right": measured["rail"]})
    met = crossed([wheelset()], [one], [RUNS])
    assert not met.by_section
    assert one.why_no_shape() == "no left outline was measured"


def test_a_design_without_a_drawing_has_no_new_outline(wheelset, section):
    assert new_outline("no such wheel") is None
    met = crossed([wheelset(wheel_design="no such wheel")], [section()], [RUNS])
    assert not met.new_wheels
    assert met.by_wheelset["W1"]


def test_the_gauge_of_the_route_stands_in_where_the_section_has_none(section):
    assert section(gauge_mm=None).gauge_mm == 1435.0
    assert section(gauge_mm=1437.5).gauge_mm == 1437.5
