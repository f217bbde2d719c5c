"""What a limit set or an override must not be: refused by name, with the place and the way out."""

import math
from pathlib import Path

import pytest

from tapertread.errors import FileRefused, LimitsRefused, WrongUsage
from tapertread.limits import (
    Limit,
    Override,
    judge,
    limit_set,
    read_limit_set,
    together,
    with_overrides,
)
from tapertread.shapes.measured import Measured

EU = limit_set("eu-in-service")

GOOD = """
name = "own"
title = "Own limits"
caution = "Invented for this test."

[[limit]]
id = "rim"
quantity = "rim_thickness_mm"
sense = "min"
value = 1.0
unit = "in"
edition = "Own rule 7"
clause = "3"
source = "trade-practice"
status = "common practice, no source"
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(folder: Path, text: str) -> LimitsRefused:
    with pytest.raises(LimitsRefused) as caught:
        read_limit_set(written(folder, text))
    return caught.value


def test_the_good_file_is_good(tmp_path):
    assert read_limit_set(written(tmp_path, GOOD)).limit("rim").value == 25.4


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('name = "own"', "name = own", "no-toml"),
        ('title = "Own limits"', "", "bad-row"),
        ('sense = "min"', 'sense = "least"', "bad-row"),
        ("value = 1.0", 'value = "1 in"', "bad-row"),
        ("value = 1.0", "valeu = 1.0", "bad-row"),
        ("value = 1.0", "value = nan", "not-finite"),
        ("value = 1.0", "value = inf", "not-finite"),
        ('unit = "in"', 'unit = "inch"', "unknown-unit"),
        ('edition = "Own rule 7"', "", "bad-row"),
        ('source = "trade-practice"', 'source = "hearsay-2020"', "unknown-source"),
        ('status = "common practice, no source"', 'status = "SURE"', "unknown-status"),
        ('clause = "3"', 'clause = "3"\nwhen = { moon = { over = 1.0 } }', "unknown-condition"),
        ('clause = "3"', 'clause = "3"\nwhen = { diameter_mm = { above = 1.0 } }', "bad-row"),
    ],
)
def test_a_faulty_row_is_refused_by_name(tmp_path, old, new, code):
    assert old in GOOD
    refused = refusal(tmp_path, GOOD.replace(old, new))
    assert refused.code == code
    assert refused.where.file is not None
    assert refused.where.file.endswith("own.toml")


def test_an_identifier_twice_is_refused(tmp_path):
    twice = GOOD + GOOD[GOOD.index("[[limit]]") :]
    refused = refusal(tmp_path, twice)
    assert refused.code == "duplicate-id"
    assert refused.where.record == "rim"


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ('of = ["rum"]\nmargin = 0.1', "unknown-limit"),
        ('of = ["rim"]', "level-undefined"),
        ('of = ["rim"]\nshare = 0.7', "level-undefined"),
        ('of = ["rim"]\nshare = 0.7\nnew = 2.0\nmargin = 0.1', "level-undefined"),
        ('of = ["rim"]\nmargin = -0.1', "level-beyond-limit"),
        ('of = ["rim"]\nshare = 1.2\nnew = 2.0', "level-beyond-limit"),
        ('of = ["rim"]\nmargin = 0.1\nstatus = "SURE"', "unknown-status"),
        ('of = ["rim"]\nmargin = 0.1\nsource = "hearsay-2020"', "unknown-source"),
    ],
)
def test_a_faulty_level_is_refused(tmp_path, row, code):
    refused = refusal(tmp_path, f'{GOOD}\n[[level]]\nlevel = "watch"\n{row}')
    assert refused.code == code


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00\x01"])
def test_a_file_that_is_no_text_is_refused(tmp_path, content):
    path = tmp_path / "own.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FileRefused) as caught:
        read_limit_set(path)
    assert caught.value.where.file == str(path)


def test_an_unknown_set_names_the_near_ones():
    with pytest.raises(LimitsRefused, match="did you mean eu-in-service") as caught:
        limit_set("eu-inservice")
    assert "us-federal" in caught.value.allowed


def test_an_unknown_limit_names_the_near_ones():
    with pytest.raises(LimitsRefused, match="did you mean eu-flange-slope-min"):
        EU.limit("eu-flange-slope-minimum")


def test_an_unknown_condition_is_wrong_usage():
    with pytest.raises(WrongUsage, match="did you mean diameter_mm"):
        EU.for_quantity("flange_height_mm", diameter=920.0)


def test_unknown_traffic_is_wrong_usage():
    with pytest.raises(WrongUsage, match="freight or passenger"):
        limit_set("us-federal").track_class(50.0, traffic="mixed")


def test_no_set_at_all_is_refused():
    with pytest.raises(LimitsRefused, match="no limit set"):
        together([])


def test_a_set_named_twice_is_refused():
    with pytest.raises(LimitsRefused, match="two limit sets"):
        together([EU, EU])


def test_two_definitions_of_gauge_are_refused():
    with pytest.raises(LimitsRefused, match="define gauge"):
        together([EU, limit_set("us-federal")])


def own(**changes: object) -> Override:
    parts = {"id": "eu-flange-slope-min", "value": 7.0, "edition": "Own 7", "why": "agreed"}
    return Override(**{**parts, **changes})


@pytest.mark.parametrize(
    ("overrides", "code"),
    [
        ([own(id="eu-flange-slope")], "unknown-limit"),
        ([own(), own()], "override-twice"),
        ([own(value=math.nan)], "not-finite"),
        ([own(value=math.inf)], "not-finite"),
        ([own(edition=" ")], "no-edition"),
        ([own(why="")], "no-why"),
        ([own(id="eu-flange-slope-min-watch", value=6.0)], "level-beyond-limit"),
        ([own(value=11.0)], "level-beyond-limit"),
    ],
)
def test_a_faulty_override_is_refused_and_named(overrides, code):
    with pytest.raises(LimitsRefused) as caught:
        with_overrides(EU, overrides)
    assert caught.value.code == code
    record = caught.value.where.record
    assert record is not None
    assert record.startswith("eu-flange-slope")


def test_an_unknown_override_names_the_near_ones():
    with pytest.raises(LimitsRefused, match="did you mean") as caught:
        with_overrides(EU, [own(id="eu-flange-slop-min")])
    assert "eu-flange-slope-min" in caught.value.found


def test_a_value_in_another_unit_is_refused():
    limit: Limit = EU.limit("eu-flange-slope-min")
    with pytest.raises(LimitsRefused, match="unit-mismatch"):
        judge(Measured(value=10.0, unit="in", uncertainty=0.1), [limit])
