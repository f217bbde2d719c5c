"""Copies of a survey in use."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import text

from tapertread.errors import FileRefused, SurveyRefused
from tapertread.survey import build_survey, open_survey
from tapertread.survey.backup import back_up
from tapertread.survey.store import writing


@pytest.fixture
def folder(raw: Path, tmp_path: Path) -> Path:
    build_survey(raw, tmp_path / "survey")
    return tmp_path / "survey"


def test_a_copy_holds_all_and_can_be_read(folder: Path, tmp_path: Path) -> None:
    back_up(folder, tmp_path / "copy")
    original, copy = open_survey(folder), open_survey(tmp_path / "copy")
    assert copy.files() == original.files()
    assert copy.history("W1") == original.history("W1")
    assert set(copy.wheel_outlines()) == set(original.wheel_outlines())
    assert sorted(path.name for path in copy.folder.iterdir()) == ["survey.sqlite", "survey.toml"]


def test_a_copy_in_the_middle_of_an_import_is_the_state_before(
    folder: Path, tmp_path: Path
) -> None:
    with writing(folder) as engine, engine.begin() as connection:
        connection.execute(text("INSERT INTO meta VALUES ('half', 'done')"))
        final = back_up(folder, tmp_path / "copy")
    assert sorted(path.name for path in final.parent.iterdir()) == ["survey.sqlite", "survey.toml"]
    assert b"half" not in final.read_bytes()
    assert open_survey(tmp_path / "copy").as_of == open_survey(folder).as_of
    assert sorted(path.name for path in final.parent.iterdir()) == ["survey.sqlite", "survey.toml"]


def test_no_store_is_copied_over(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(SurveyRefused, match="backup-exists"):
        back_up(folder, folder)
    with pytest.raises(FileRefused, match="no-survey"):
        back_up(tmp_path / "nowhere", tmp_path / "copy")
    assert not (tmp_path / "copy").exists()
