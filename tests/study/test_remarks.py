"""What stands beside wheelsets and sections and no limit judges."""

import math
from dataclasses import replace

import pytest

from tapertread.railway import FrictionReading, Lubricator, RoutePiece, Treatment
from tapertread.study import remarks
from tapertread.study.remarks import Surroundings, section_remarks, wheelset_remarks
from tapertread.study.states import Earlier, SectionOnHand, WheelsetOnHand

NOTHING = {"left": None, "right": None}
PIECE = RoutePiece(line="L", track="1", from_km=0.0, to_km=5.0, kind="curve", speed_kmh=80.0)
DATES = {"before": "2030-04-01", "now": "2031-04-01"}


@pytest.fixture
def section(section_record):
    def make(radius_m=350.0, distance_m=2000.0, piece=PIECE, **changed):
        return SectionOnHand(
            record=section_record(**changed),
            piece=piece,
            sides=NOTHING,
            curve_radius_m=radius_m,
            distance_m=distance_m,
        )

    return make


def lubricator(**changed):
    return Lubricator(
        **{
            "lubricator": "LUB",
            "line": "L",
            "track": "1",
            "km": 1.5,
            "kind": "gauge-face",
            "state": "empty",
            **changed,
        }
    )


def told(one, **beside):
    return section_remarks(one, Surroundings(dates=DATES, **beside))


@pytest.mark.parametrize(
    ("changed", "away_m", "radius_m", "count"),
    [
        ({}, 500.0, 350.0, 1),
        ({"state": "broken"}, 500.0, -350.0, 1),
        ({"state": "working"}, 500.0, 350.0, 0),
        ({"state": "unknown"}, 500.0, 350.0, 0),
        ({"kind": "top-of-rail"}, 500.0, 350.0, 0),
        ({"track": "2"}, 500.0, 350.0, 0),
        ({}, 1600.0, 350.0, 0),  # too far for its grease
        ({}, 500.0, math.inf, 0),  # no flange presses on straight track
    ],
)
def test_lubricators_that_do_not_work_near_a_curve(section, changed, away_m, radius_m, count):
    one = section(radius_m=radius_m, distance_m=2000.0)
    found = told(one, lubricators=((lubricator(**changed), 2000.0 - away_m),))
    assert len(found) == count
    assert all("1.5" in note and "S1" in note for note in found)


def test_a_section_off_any_route_has_no_lubricator_near_it(section):
    found = told(section(distance_m=None, piece=None), lubricators=((lubricator(), 0.0),))
    assert len(found) == 1
    assert "no route" in found[0]


@pytest.mark.parametrize(
    ("friction", "place", "campaign", "radius_m", "count"),
    [
        (0.45, "gauge-face", "now", 350.0, 1),
        (0.15, "gauge-face", "now", 350.0, 0),  # greased
        (0.45, "top", "now", 350.0, 0),
        (0.45, "gauge-face", "before", 350.0, 0),
        (0.45, "gauge-face", "now", math.inf, 0),
    ],
)
def test_dry_gauge_faces_in_curves(section, friction, place, campaign, radius_m, count):
    reading = FrictionReading(
        section="S1", side="left", campaign=campaign, place=place, friction=friction
    )
    found = told(section(radius_m=radius_m), readings=(reading,))
    assert len(found) == count
    assert all("0.45" in note and "left" in note for note in found)


@pytest.mark.parametrize(
    ("leans", "count"),
    [
        (((18.5, 2.0), (18.0, 2.0)), 1),  # 1:55 where the register says 1:40 = 25 mrad
        (((24.0, 2.0), (18.0, 2.0)), 0),  # 4 mrad off in the middle: laid and worn so
        (((31.8, 1.9), (24.1, 3.7)), 0),  # one rail this way, the other that way
        (((18.5, 6.0), (18.0, 6.0)), 0),  # too unsure
        (((18.5, 2.0), None), 0),  # one rail alone may have rolled
    ],
)
def test_rails_that_lean_otherwise_than_their_register(section, monkeypatch, leans, count):
    made = {
        side: remarks.Measured.missing("mrad", "none")
        if lean is None
        else remarks.Measured.of(lean[0], "mrad", datum=lean[1])
        for side, lean in zip(("left", "right"), leans, strict=True)
    }
    one = section()
    sides = {"left": "left", "right": "right"}
    monkeypatch.setattr(remarks, "lean_of", lambda side: made[side])
    found = section_remarks(replace(one, sides=sides), Surroundings(dates=DATES))
    assert len(found) == count
    assert all("1:40" in note and "checked" in note for note in found)


def test_a_nominal_gauge_is_remarked(section):
    assert any("nominal" in note for note in told(section(gauge_known="nominal")))
    assert not told(section(gauge_known="measured"))


@pytest.mark.parametrize(
    ("date", "kind", "asset", "count"),
    [
        ("2030-10-01", "turning", "W1", 1),
        ("2031-04-01", "turning", "W1", 1),  # on the day of measuring
        ("2030-04-01", "turning", "W1", 0),  # before the campaign before
        ("2031-05-01", "turning", "W1", 0),  # after the last campaign
        ("2030-10-01", "grinding", "W1", 0),
        ("2030-10-01", "turning", "W2", 0),
    ],
)
def test_fresh_cuts_since_the_campaign_before(vehicle, wheelset_record, date, kind, asset, count):
    one = WheelsetOnHand(
        record=wheelset_record(),
        vehicle=vehicle(),
        sides=NOTHING,
        earlier=Earlier(campaign="before", date=DATES["before"], measures={}),
    )
    cut = Treatment(kind=kind, asset=asset, date=date)
    found = wheelset_remarks(one, Surroundings(dates=DATES, treatments=(cut,)))
    assert len(found) == count
    assert all("lubrication" in note for note in found)
