"""Reading a survey: what holds, what held, and that nothing is changed by it."""

from __future__ import annotations

import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from tapertread.errors import FileRefused, SurveyRefused
from tapertread.survey import build_survey, import_files, open_or_build, open_survey


@pytest.fixture
def folder(raw: Path, tmp_path: Path) -> Path:
    build_survey(raw, tmp_path / "survey")
    return tmp_path / "survey"


def test_records_by_campaign_and_as_last_measured(folder: Path) -> None:
    survey = open_survey(folder)
    assert [one.campaign for one in survey.campaigns] == ["spring", "autumn"]
    assert [one.wheelset for one in survey.wheelsets("spring")] == ["W1", "W2"]
    assert [(one.wheelset, one.campaign) for one in survey.wheelsets()] == [
        ("W1", "autumn"),
        ("W2", "spring"),
    ]
    assert [(one.section, one.campaign) for one in survey.sections()] == [
        ("S1", "autumn"),
        ("S2", "spring"),
    ]
    assert survey.wheelsets("no such campaign") == []


def test_the_other_tables(folder: Path) -> None:
    survey = open_survey(folder)
    assert survey.name == "Ostrel, invented"
    assert survey.vehicles[0].fleet == "Marl"
    assert survey.services[0].line == "Ostrel"
    assert len(survey.inspections("spring")) == len(survey.inspections()) == 2
    assert survey.inspections("autumn") == []
    assert survey.bands("spring")[0].centre_mm == -8.5
    assert [one.place for one in survey.friction_readings()] == ["top", "gauge-face"]
    assert [one.asset for one in survey.treatments] == ["W1", "S1"]
    assert survey.lubricators[0].state == "working"
    assert len(survey.kilometre_jumps) == 2


def test_sections_find_their_piece_through_the_jumps(folder: Path) -> None:
    survey = open_survey(folder)
    first, second = survey.sections()
    assert survey.piece_of(first).radius_m == -450.0  # type: ignore[union-attr]
    route = survey.route_of(second)
    assert route is not None
    assert route.place_of(second) == pytest.approx(1500.0 + 1200.0 + 100.0)


def test_outlines_of_the_last_campaign_of_each_asset(folder: Path) -> None:
    found = open_survey(folder).wheel_outlines()
    assert {(asset, raw.campaign) for (asset, _), raw in found.items()} == {
        ("W1", "autumn"),
        ("W2", "spring"),
    }
    assert set(open_survey(folder).wheel_outlines("autumn")) == {("W1", "left"), ("W1", "right")}


def test_sides_of_one_asset_never_mix_campaigns(
    folder: Path, rows: Callable[..., str], tmp_path: Path
) -> None:
    path = tmp_path / "one.csv"
    path.write_text("wheelset,side,campaign,y_mm,z_mm\n" + rows("W2", "left", "autumn", 4.0))
    import_files(folder, [path])
    found = open_survey(folder).wheel_outlines()
    assert ("W2", "left") in found
    assert ("W2", "right") not in found


def test_history_tells_everything_in_order(folder: Path) -> None:
    events = open_survey(folder).history("W1")
    assert [(one.date, one.what) for one in events] == [
        ("2031-04-02", "outline"),
        ("2031-04-02", "outline"),
        ("2031-04-02", "wheelsets"),
        ("2031-06-11", "treatments"),
        ("2031-10-05", "outline"),
        ("2031-10-05", "outline"),
        ("2031-10-05", "wheelsets"),
    ]
    assert all(one.holds for one in events)
    assert events[3].record.removed_mm == 6.2  # type: ignore[union-attr]
    assert open_survey(folder).history("nobody") == []


def read_everything(folder: Path) -> None:
    survey = open_survey(folder)
    survey.wheel_outlines()
    survey.rail_outlines("spring")
    survey.history("S1")
    survey.files()
    survey.refusals()


def test_reading_changes_nothing(folder: Path) -> None:
    """Neither bytes nor times of the store, nor anything beside it."""
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()}
    times = folder.stat().st_mtime_ns
    read_everything(folder)
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()} == (
        before
    )
    assert folder.stat().st_mtime_ns == times


def test_a_survey_without_any_right_to_write_is_read(folder: Path) -> None:
    """In a process that gives up root, since root may write everywhere."""
    script = (
        "import os, sys\n"
        "from tapertread.survey import open_survey\n"
        "open_survey(sys.argv[1]).wheel_outlines()\n"
        "os.setuid(65534) if os.getuid() == 0 else None\n"
        "assert not os.access(sys.argv[1], os.W_OK)\n"
        "print(len(open_survey(sys.argv[1]).wheel_outlines()))"
    )
    for above in (folder, *folder.parents):
        if above.name.startswith(("pytest-", "test_", "popen-")):
            above.chmod(0o755)
    (folder / "survey.sqlite").chmod(0o444)
    folder.chmod(0o555)
    done = subprocess.run(
        [sys.executable, "-c", script, str(folder)], capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "4", done.stderr


def test_a_view_stays_as_it_was_while_others_import(folder: Path, raw: Path) -> None:
    view = open_survey(folder)
    text = (raw / "wheelsets.csv").read_text().replace("917.1", "917.3")
    (raw / "wheelsets.csv").write_text(text)
    (raw / "wheels" / "all.csv").write_text((raw / "wheels" / "all.csv").read_text()[:-40] + "\n")
    build_survey(raw, folder)
    assert view.wheelsets("autumn")[0].left_diameter_mm == 917.1
    assert len(view.wheel_outlines()) == 4
    assert view.as_of < open_survey(folder).as_of


def test_readers_during_writes_see_whole_files_only(folder: Path, tmp_path: Path) -> None:
    """Ten files of 3 wheelsets each come in; a reader sees multiples of 3, never less than before.

    Counts are compared within one reader's order, so that torn or vanished states would show.
    """
    files = []
    for n in range(10):
        path = tmp_path / f"part{n}.csv"
        rows = "".join(f"N{n}-{axle},V1,{3 * n + axle + 3},spring\n" for axle in range(3))
        path.write_text("wheelset,vehicle,axle,campaign\n" + rows)
        files.append(path)
    counts: list[int] = []
    done = threading.Event()

    def read() -> None:
        while not done.is_set():
            counts.append(len(open_survey(folder).wheelsets("spring")))

    reader = threading.Thread(target=read)
    reader.start()
    report = import_files(folder, files)
    done.set()
    reader.join()
    assert report.refused == []
    assert report.added == 30
    assert counts == sorted(counts)
    assert {(count - 2) % 3 for count in counts} == {0}
    assert len(open_survey(folder).wheelsets("spring")) == 32


def test_a_raw_folder_is_built_elsewhere_and_a_survey_opened(raw: Path, tmp_path: Path) -> None:
    before = sorted(path.name for path in raw.rglob("*"))
    built = open_or_build(raw, tmp_path / "out")
    assert sorted(path.name for path in raw.rglob("*")) == before
    assert len(built.wheel_outlines()) == 4
    opened = open_or_build(tmp_path / "out", tmp_path / "elsewhere")
    assert opened.folder == tmp_path / "out"
    assert not (tmp_path / "elsewhere").exists()


def test_a_raw_folder_with_nowhere_to_build_is_refused(raw: Path) -> None:
    with pytest.raises(SurveyRefused, match="nowhere-to-build"):
        open_or_build(raw)


def test_a_raw_folder_with_faults_is_refused_by_its_first(
    make_raw: Callable[..., Path], tmp_path: Path
) -> None:
    raw = make_raw(campaigns="campaign,date\nspring,2031-04-02\nautumn,05.10.2031\n")
    with pytest.raises(SurveyRefused, match="ambiguous-date") as caught:
        open_or_build(raw, tmp_path / "out")
    assert caught.value.where.line == 3
    assert "the first of" in caught.value.found


def test_a_refused_file_of_outlines_leaves_the_rest_usable(raw: Path, tmp_path: Path) -> None:
    (raw / "wheels" / "torn.csv").write_bytes(b"\x00\x01\x02 no table")
    built = open_or_build(raw, tmp_path / "out")
    assert len(built.wheel_outlines()) == 4
    (kept,) = built.refusals()
    assert kept.file.endswith("torn.csv")
    assert kept.why


def test_a_folder_without_a_store_is_told_what_to_do(raw: Path) -> None:
    with pytest.raises(FileRefused, match="no-store"):
        open_survey(raw)
    with pytest.raises(FileRefused, match="no-survey"):
        open_survey(raw / "wheels")
