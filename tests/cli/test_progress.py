"""Bars go to standard error, to terminals alone, and follow every stage."""

import io

import pytest
from tqdm import tqdm

from tapertread.cli.progress import Bar, progress_bar


@pytest.fixture
def drawn():
    with tqdm(file=io.StringIO(), disable=False) as bar:
        yield bar


def test_files_say_how_many_and_which_comes_next(drawn) -> None:
    bar = Bar(drawn)
    bar.files(3, 20, "wheels.csv")
    assert (drawn.n, drawn.total) == (3, 20)
    assert "wheels.csv" in str(drawn)


def test_every_stage_begins_anew_under_its_name(drawn) -> None:
    bar = Bar(drawn)
    bar.stage("outlines", 80, 80)
    bar.stage("crossing", 5, 400)
    assert (drawn.n, drawn.total) == (5, 400)
    assert "crossing" in str(drawn)
    bar.stage("crossing", 400, 400)
    assert drawn.n == 400


def test_nothing_is_drawn_where_standard_error_is_no_terminal(capsys) -> None:
    with progress_bar("import") as bar:
        bar.files(1, 2, "a.csv")
        bar.stage("crossing", 1, 2)
    assert capsys.readouterr() == ("", "")
