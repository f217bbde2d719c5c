"""Answers are strict JSON: one object, no NaN, every null with its reason."""

import json
import math
from pathlib import PurePosixPath

import numpy as np
import pytest

from tapertread.cli.answers import answer_json, sources_listed
from tapertread.errors import SourceUnknown
from tapertread.sources import STATUSES


def said(**data: object) -> dict:
    return json.loads(answer_json(data))


@pytest.mark.parametrize("lost", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_a_number_that_is_not_finite_is_null_with_its_key_in_the_notes(lost: float) -> None:
    found = said(depth_mm=lost)
    assert found["depth_mm"] is None
    assert found["notes"] == ["depth_mm: null where there is no finite number"]


def test_a_reason_that_stands_there_already_is_enough() -> None:
    found = said(depth_mm=math.nan, notes=["depth_mm: the outline ends before it"])
    assert found["notes"] == ["depth_mm: the outline ends before it"]


def test_nested_keys_are_named_by_their_path_once() -> None:
    found = said(right={"radius_mm": np.array([460.0, np.nan, np.nan])})
    assert found["right"]["radius_mm"] == [460.0, None, None]
    assert found["notes"] == ["right.radius_mm: null where there is no finite number"]


def test_a_note_on_the_outer_key_covers_what_lies_in_it() -> None:
    found = said(right={"radius_mm": math.nan}, notes=["right: off the rail"])
    assert found["notes"] == ["right: off the rail"]


def test_one_note_may_speak_for_several_keys() -> None:
    found = said(roll=math.nan, right={"y": math.nan}, left=math.nan, notes=["roll, right: off"])
    assert found["notes"] == ["roll, right: off", "left: null where there is no finite number"]


def test_numpy_values_paths_and_tuples_become_plain() -> None:
    found = said(
        count=np.int64(3), stable=np.bool_(True), path=PurePosixPath("a/b"), pair=(1, "zwei")
    )
    assert found == {"count": 3, "stable": True, "path": "a/b", "pair": [1, "zwei"], "notes": []}


def test_none_stays_null_without_a_further_note() -> None:
    assert said(plan=None) == {"plan": None, "notes": []}


def test_what_json_cannot_carry_is_an_error_and_no_text() -> None:
    with pytest.raises(TypeError):
        answer_json({"what": object()})


def test_letters_of_all_scripts_stay_readable() -> None:
    assert "±0.1 mm" in answer_json({"text": "±0.1 mm"})


def test_sources_are_listed_once_and_unknown_ones_refused() -> None:
    assert [one["key"] for one in sources_listed(["derived", "cfr-213", "derived"])] == [
        "cfr-213",
        "derived",
    ]
    with pytest.raises(SourceUnknown):
        sources_listed(["hearsay-2020"])


def test_a_drawing_s_own_words_stand_beside_the_bibliography() -> None:
    """Own words have no key; what a drawing names by a key is that entry, once."""
    listed = sources_listed(["derived"], of_shapes=["works drawing 12 (invented)", "derived"])
    assert [one["key"] for one in listed] == ["derived", None]
    assert listed[1]["text"] == "works drawing 12 (invented)"
    assert listed[1]["status"] in STATUSES
