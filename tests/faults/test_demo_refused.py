"""Folders and names that the demo refuses, with nothing lost."""

from pathlib import Path

import pytest

from tapertread.demo import write_demo
from tapertread.errors import SurveyRefused, WrongUsage


def test_a_folder_with_other_things_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("years of work", encoding="utf-8")
    with pytest.raises(SurveyRefused, match="folder-not-empty") as refused:
        write_demo(tmp_path, which="us")
    assert str(tmp_path) in str(refused.value)
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_a_survey_of_somebody_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_text("survey = 1\n", encoding="utf-8")
    with pytest.raises(SurveyRefused, match="folder-not-empty"):
        write_demo(tmp_path, which="us")
    assert (tmp_path / "survey.toml").read_text(encoding="utf-8") == "survey = 1\n"


def test_the_other_demo_is_refused(tmp_path: Path) -> None:
    write_demo(tmp_path, which="us")
    with pytest.raises(SurveyRefused, match="folder-not-empty"):
        write_demo(tmp_path, which="main")
    assert not (tmp_path / "kilometres.csv").exists()


def test_a_file_in_the_folder_s_place_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    place.write_text("not a folder", encoding="utf-8")
    with pytest.raises(SurveyRefused, match="folder-not-empty"):
        write_demo(place, which="us")
    assert place.read_text(encoding="utf-8") == "not a folder"


def test_the_same_demo_may_be_written_again_and_leaves_other_files(tmp_path: Path) -> None:
    write_demo(tmp_path, which="us")
    first = (tmp_path / "sections.csv").read_bytes()
    (tmp_path / "sections.csv").write_text("spoiled", encoding="utf-8")
    (tmp_path / "report.html").write_text("kept", encoding="utf-8")
    write_demo(tmp_path, which="us")
    assert (tmp_path / "sections.csv").read_bytes() == first
    assert (tmp_path / "report.html").read_text(encoding="utf-8") == "kept"


def test_an_unknown_demo_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="no demo railway named 'moon'"):
        write_demo(tmp_path / "new", which="moon")  # type: ignore[arg-type]
    assert not (tmp_path / "new").exists()
