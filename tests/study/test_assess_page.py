"""The page on assessing says what the code does: numbers, codes and names agree."""

import re
from pathlib import Path

import pytest

from tapertread.contact.flange import TREAD_ANGLE_RAD
from tapertread.study import assess as chain
from tapertread.study import changes, curving, drift, encounters, ground, line
from tapertread.study.sentences import reason_codes

PAGE = (Path(__file__).parents[2] / "docs" / "assess.md").read_text(encoding="utf-8")
FLAT = " ".join(PAGE.split())
SOURCES = Path(chain.__file__).parent


@pytest.mark.parametrize(
    "said",
    [
        f"wider than {encounters.STRAIGHTER_THAN_M:.0f} m",
        f"less than {100 * curving.TELLING_SHARE:.0f} %",
        f"also {ground.NOMINAL_GAUGE_BAND_MM:.0f} mm tighter and wider",
        f"| {ground.DIFFERENCE_UNCERTAINTY_MM:g} mm |",
        f"| {ground.CONICITY_UNCERTAINTY:g} |",
        f"the last {encounters.NEAR_END_MM:g} mm of shift",
        f"steeper than {TREAD_ANGLE_RAD * 57.29578:.0f}°",
        f"more than {1000 * drift.LEAST_DRIFT_KM:.0f} m apart",
    ],
)
def test_numbers_of_the_page_are_those_of_the_code(said):
    assert said in FLAT


def test_half_and_three_are_said_in_words():
    assert ground.COMMON_CAUSE_SHARE == 0.5
    assert "more than half of the fleet" in FLAT
    assert changes.SURE == 3.0
    assert "three standard uncertainties" in FLAT
    assert drift.LEAST_SECTIONS == 3
    assert "at least three of them" in FLAT


def test_the_page_says_that_it_is_no_clearance():
    assert "Nothing here is a clearance to run" in FLAT


def test_every_reason_that_this_room_gives_has_its_sentence():
    given = set()
    for path in SOURCES.glob("*.py"):
        text = path.read_text(encoding="utf-8")
        given |= set(re.findall(r'Reason\(\s*code="([a-z-]+)"', text))
        given |= set(re.findall(r'\bcode(?:, why)? = "([a-z-]+)"', text))
    assert len(given) > 20
    assert given <= set(reason_codes())


def test_near_a_level_is_what_outlines_leave():
    assert line.NEAR_LEVEL == ground.CONICITY_UNCERTAINTY
