"""``demo``, ``assess`` and ``import``: from raw tables to verdicts, reading without changing."""

import hashlib
import json
import shutil

import pytest

from tapertread.cli.assess import KEYS
from tapertread.cli.import_ import KEYS as IMPORT_KEYS
from tapertread.demo import write_demo

FINDING = {"id", "subject", "verdict", "measured", "uncertainty", "limit", "unit", "edition"}
WORDS = {"sound", "watch", "act", "out of limit", "measure again", "not assessed"}


@pytest.fixture(scope="module")
def folder(small_demo):
    return small_demo[0]


@pytest.fixture(scope="module")
def data(small_demo):
    assert small_demo[1].status == 0, small_demo[1].err
    return small_demo[1].data


def _state(folder) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def _without_times(data) -> dict:
    return {
        key: value for key, value in data.items() if key not in ("timings_s", "report", "notes")
    }


def test_every_documented_key_is_there_and_no_other(data) -> None:
    assert set(data) == set(KEYS)
    assert data["invented"] is True
    assert data["plan"] is None
    assert data["report"]["pdf"] is None
    for key in ("plan", "report.pdf"):
        assert any(note.startswith(f"{key}:") for note in data["notes"])


def test_findings_carry_the_keys_of_the_contract_in_the_words_of_the_house(data) -> None:
    assert data["findings"]
    for finding in data["findings"]:
        assert FINDING | {"source", "why"} <= set(finding)
        assert finding["verdict"] in WORDS
        assert finding["why"]
        if finding["verdict"] == "out of limit" or finding["limit"] is not None:
            assert finding["measured"] is not None or finding["verdict"] == "not assessed"
            assert finding["edition"]
            assert finding["source"]
    assert sum(data["counts"].values()) == len(data["findings"])


def test_report_and_result_say_the_same_as_the_answer(data, folder) -> None:
    assert data["report"]["html"] == str(folder / "report.html")
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert data["survey"] in page
    kept = json.loads((folder / "assessment.json").read_text(encoding="utf-8"))
    assert kept == data


def test_seconds_are_told_by_stage(data) -> None:
    timings = dict(data["timings_s"])
    total = timings.pop("total")
    assert {"import", "report"} < set(timings)
    assert total == pytest.approx(sum(timings.values()), abs=0.01)


def test_assessing_a_survey_changes_nothing_in_it_and_says_the_same(call, data, folder) -> None:
    before = _state(folder)
    again = call("assess", folder, "--json")
    assert again.status == 0
    assert _state(folder) == before
    assert _without_times(again.data) == _without_times(data)
    assert again.data["report"]["html"] is None
    assert any(note.startswith("report.html:") for note in again.data["notes"])


def test_raw_tables_are_built_in_the_folder_named_and_left_alone(call, data, tmp_path) -> None:
    raw, out = tmp_path / "raw", tmp_path / "out"
    write_demo(raw, which="us")
    before = _state(raw)
    found = call("assess", raw, "--out", out, "--json")
    assert _state(raw) == before
    assert (out / "survey.sqlite").exists()
    assert (out / "report.html").exists()
    assert found.data["findings"] == data["findings"]


def test_raw_tables_without_a_folder_are_refused(call, tmp_path) -> None:
    write_demo(tmp_path / "raw", which="us")
    assert call("assess", tmp_path / "raw", "--json").refused["code"] == "nowhere-to-build"


def test_the_text_shows_the_gravest_findings_and_the_caution(call, folder, data, tmp_path) -> None:
    text = call("assess", folder, "--out", tmp_path / "act").out
    assert data["findings"][0]["why"] in text
    assert "never a clearance to run" in text
    assert f"Report: {tmp_path / 'act' / 'report.html'}" in text
    assert "invented" in text.splitlines()[0]


def test_nothing_comes_in_twice(call, folder, tmp_path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    found = call("import", copy, copy / "wheelsets.csv", "--json")
    assert found.status == 0
    assert set(found.data) == set(IMPORT_KEYS)
    assert found.data["added"] == 0
    assert found.data["already_there"] > 0
    assert found.data["refused"] == []


def test_a_refused_file_leaves_status_one_and_the_others_kept(call, folder, tmp_path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    (tmp_path / "empty.csv").write_bytes(b"")
    found = call("import", copy, tmp_path / "empty.csv", copy / "vehicles.csv", "--json")
    assert found.status == 1
    (refused,) = found.data["refused"]
    assert refused["file"] == str(tmp_path / "empty.csv")
    assert refused["why"]
    assert "line" in refused
    assert found.data["already_there"] > 0


def test_the_demo_may_be_written_again_where_it_lies(call, folder, data) -> None:
    again = call("demo", folder, "--which", "us", "--json")
    assert again.status == 0
    assert again.data["findings"] == data["findings"]


def test_the_demo_leaves_a_folder_of_others_alone(call, tmp_path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    assert call("demo", tmp_path, "--json").refused["code"] == "folder-not-empty"
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
