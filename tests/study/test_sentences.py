"""Sentences: every code says something whole in both unit systems, and says it once."""

import math
import re

import pytest

from tapertread.errors import WrongUsage
from tapertread.limits import Limit, Verdict, Word, judge, limit_set, limit_set_names
from tapertread.shapes.measured import Measured
from tapertread.study.records import Reason
from tapertread.study.sentences import (
    NOT_KNOWN,
    measure_name,
    placeholders,
    reason_codes,
    said,
    sentence,
    verdict_reason,
)

SYSTEMS = ("metric", "us")
NUMBERS = re.compile(
    r"^(value|expanded|limit|conicity.*|.*_conicity|friction|"
    r".*_(mm|m|km|kmh|kn|deg|mrad|hz|percent|share|count))$"
)
METRIC_UNIT = re.compile(r"\d (mm|m|km|km/h|kN)\b")
US_UNIT = re.compile(r"\d (in|ft|mi|mph|kip)\b")


def example(code):
    """Return a reason with a number or a word for every placeholder."""
    values = {name: 0.123 if NUMBERS.match(name) else "word" for name in placeholders(code)}
    return Reason(code=code, values=values)


def words_of(text):
    return re.sub(r"\(3/8 in above the tread\)|5/8 in below|over 100 m|at km", "", text)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("code", reason_codes())
def test_every_code_says_one_whole_sentence(code, system):
    text = sentence(example(code), system)
    assert text.endswith(".")
    assert not text.endswith("..")
    assert text[0] == text[0].upper()
    assert not re.search(r"[{}]|\bNone\b|\bnan\b|  | ,| \.", text)
    assert not re.search(r"\.\s+[A-Z]", text), "one sentence, not two"
    wrong = METRIC_UNIT if system == "us" else US_UNIT
    assert not wrong.search(words_of(text))


@pytest.mark.parametrize("code", reason_codes())
def test_every_placeholder_shows_in_the_sentence(code):
    reason = example(code)
    for name in placeholders(code):
        changed = Reason(code=code, values={**reason.values, name: "another-word"})
        assert "another-word" in sentence(changed)


def test_the_sentence_of_the_sharpest_curve():
    reason = Reason(
        code="curve-needs-flange",
        values={
            "curve_radius_m": -300.0,
            "section": "S12",
            "needed_difference_mm": 2.3,
            "available_difference_mm": 0.4,
        },
    )
    assert sentence(reason) == (
        "On the sharpest curve it runs (R 300 m left, section S12) this wheelset needs 2.3 mm of "
        "rolling radius difference and its treads give 0.4 mm before the flange root, so its "
        "flange does the rest."
    )
    assert "(5.8° left, section S12) this wheelset needs 0.091 in" in sentence(reason, "us")


CHOICE = limit_set("eu-in-service").for_quantity(
    "flange_thickness_mm", diameter_mm=920.0, vehicle_kind="coach"
)


def flange(value, uncertainty=0.05):
    return judge(Measured(value=value, unit="mm", uncertainty=uncertainty), CHOICE)


@pytest.mark.parametrize(
    ("verdict", "parts"),
    [
        (flange(32.0), ("32.00 mm ± 0.10 mm", "at most 33.00 mm, is kept")),
        (flange(24.0), ("level to watch asks for more than 25.15 mm", "thin flange")),
        (flange(23.0), ("level to act asks for more than 23.05 mm", "plan its correction")),
        (flange(22.05), ("reads 22.05 mm against at least 22.00 mm", "measure it again")),
        (flange(21.0), ("at least 22.00 mm is allowed (TSI", "out of limit", "thin flange")),
        (flange(34.0), ("at most 33.00 mm is allowed (TSI", "thick flange")),
        (flange(30.0, None), ("not assessed", "carries no uncertainty")),
        (flange(20.0, None), ("measure it again", "treat it as out of limit")),
        (flange(math.nan), ("not assessed", "not a finite number")),
    ],
)
def test_a_measure_against_its_limits_in_each_word(verdict, parts):
    text = sentence(verdict_reason("flange_thickness_mm", verdict))
    assert text.startswith("The flange thickness ")
    for part in parts:
        assert part in text


def test_inches_for_the_same_verdict():
    text = sentence(verdict_reason("flange_thickness_mm", flange(21.0)), "us")
    assert "is 0.827 in ± 0.004 in where at least 0.866 in is allowed" in text


@pytest.mark.parametrize(
    ("mm", "digits", "inches"),
    [(0.1, 1, "0.004 in"), (2.3, 1, "0.091 in"), (0.1, 0, "0.004 in"), (0.1, 3, "0.0039 in")],
)
def test_a_tenth_of_a_millimetre_is_no_nothing_in_inches(mm, digits, inches):
    """An inch is 25.4 mm by definition (1959), so that two decimals cannot tell 0.1 mm."""
    assert said("needed_difference_mm", mm, system="us", digits=digits) == inches
    if digits == 1:
        values = {
            "curve_radius_m": -300.0,
            "section": "S12",
            "needed_difference_mm": mm,
            "available_difference_mm": 0.1,
        }
        text = sentence(Reason(code="curve-needs-flange", values=values), "us")
        assert f"needs {inches} of" in text
        assert "0.00 in" not in text


@pytest.mark.parametrize("name", limit_set_names())
def test_every_limited_quantity_has_words_for_every_verdict(name):
    for limit in limit_set(name):
        measured = Measured(value=limit.value, unit=limit.unit, uncertainty=0.0)
        for word in Word:
            verdict = Verdict(word=word, measured=measured, limit=limit, why_not="it is a test")
            text = sentence(verdict_reason(limit.quantity, verdict))
            assert measure_name(limit.quantity) in text


def test_the_limit_s_side_chooses_what_it_means():
    gauge = limit_set("de-ebo").for_quantity("gauge_mm", radius_m=500.0)
    tight = judge(Measured(value=1428.0, unit="mm", uncertainty=0.1), gauge)
    wide = judge(Measured(value=1470.0, unit="mm", uncertainty=0.1), gauge)
    assert "tight gauge" in sentence(verdict_reason("gauge_mm", tight))
    assert "wide gauge" in sentence(verdict_reason("gauge_mm", wide))


def test_a_verdict_without_limit_still_says_why():
    verdict = judge(Measured(value=1.0, unit="mm", uncertainty=0.1), ())
    text = sentence(verdict_reason("wear_45_mm", verdict))
    assert text == "The rail wear at 45 degrees is not assessed: no limit applies."


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_a_number_that_is_none_is_said_to_be_unknown(value):
    reason = Reason(code="conicity-low", values={"section": "S1", "amplitude_mm": 3.0})
    reason.values["conicity"] = value
    assert NOT_KNOWN in sentence(reason)


@pytest.mark.parametrize(
    ("name", "value", "metric", "us"),
    [
        ("curve_radius_m", math.inf, "straight", "straight"),
        ("sharpest_curve_radius_m", 350.0, "R 350 m right", "5.0° right"),
        ("curve_radius_m", -9.0, "R 9.0 m left", "R 29.5 ft left"),
        ("flange_share", 0.42, "42 %", "42 %"),
        ("line_count", 3.0, "3", "3"),
        ("wavelength_m", 15.24, "15 m", "50 ft"),
        ("speed_kmh", 160.9344, "161 km/h", "100 mph"),
        ("conicity", 0.1777, "0.178", "0.178"),
        ("shift_mm", -0.0001, "0.00 mm", "0.000 in"),
        ("shift_mm", -1.27, "-1.27 mm", "-0.050 in"),
        ("curve_radius_m", math.nan, NOT_KNOWN, NOT_KNOWN),
    ],
)
def test_a_value_is_said_with_the_unit_of_its_name(name, value, metric, us):
    assert said(name, value) == metric
    assert said(name, value, system="us") == us


def test_an_unknown_code_names_the_near_ones():
    with pytest.raises(WrongUsage, match="did you mean curve-needs-flange"):
        sentence(Reason(code="curve-need-flange"))
    with pytest.raises(WrongUsage, match="no sentence"):
        placeholders("flange_thickness_mm/perfect")


def test_an_unknown_measure_is_wrong_usage():
    with pytest.raises(WrongUsage, match="did you mean flange_height_mm"):
        verdict_reason("flange_heigth_mm", flange(30.0))
    with pytest.raises(WrongUsage, match="no words for measure"):
        measure_name("moon_mm")


def test_a_value_left_out_is_never_left_blank():
    with pytest.raises(WrongUsage, match="lacks its value 'section'"):
        sentence(Reason(code="conicity-low", values={"conicity": 0.02, "amplitude_mm": 3.0}))


def test_the_six_words_have_one_template_each():
    words = {code.partition("/")[2] for code in reason_codes()} - {""}
    assert words == {word.value.replace(" ", "-") for word in Word}


def test_limits_are_not_changed_by_being_said():
    limit: Limit = CHOICE[0]
    before = limit.to_dict()
    sentence(verdict_reason("flange_thickness_mm", flange(21.0)), "us")
    assert limit.to_dict() == before
