"""Files in: whole or not at all, never twice, corrections kept beside what they correct."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from tapertread.shapes.reading.recipe import recipe_from_text
from tapertread.survey import build_survey, import_files, open_survey

HEADER = "wheelset,side,campaign,y_mm,z_mm\n"


@pytest.fixture
def folder(raw: Path, tmp_path: Path) -> Path:
    """Build a survey from the raw folder."""
    report = build_survey(raw, tmp_path / "survey")
    assert report.refused == []
    return tmp_path / "survey"


def test_a_raw_folder_comes_in_whole(raw: Path, tmp_path: Path) -> None:
    seen: list[tuple[int, int, str]] = []
    report = build_survey(
        raw, tmp_path / "survey", progress=lambda at, of, name: seen.append((at, of, name))
    )
    counts = {Path(one.file).stem: one.added for one in report.files}
    assert counts["wheelsets"] == 3
    assert counts["route"] == 6
    assert report.added == 36
    assert [at for at, _, _ in seen] == list(range(14))
    assert (tmp_path / "survey" / "survey.toml").read_text() == (raw / "survey.toml").read_text()


def test_building_again_brings_nothing_twice(raw: Path, folder: Path) -> None:
    before = open_survey(folder).as_of
    report = build_survey(raw, folder)
    assert (report.added, report.already_there, report.refused) == (0, 36, [])
    assert open_survey(folder).as_of == before


def test_points_come_back_bit_for_bit(raw: Path, folder: Path) -> None:
    frame = pl.read_csv(raw / "wheels" / "all.csv")
    own = frame.filter(wheelset="W1", side="left", campaign="autumn")
    found = open_survey(folder).wheel_outlines("autumn")["W1", "left"]
    np.testing.assert_array_equal(found.outline.y_mm, own["y_mm"].to_numpy())
    np.testing.assert_array_equal(found.outline.z_mm, own["z_mm"].to_numpy())
    assert (found.campaign, found.file, found.first_line) == ("autumn", "wheels/all.csv", 33)


def test_the_bytes_of_every_file_are_kept(raw: Path, folder: Path) -> None:
    survey = open_survey(folder)
    for stored in survey.files():
        original = (raw / stored.file).read_bytes()
        assert hashlib.sha256(original).hexdigest() == stored.sha256
        assert survey.raw_bytes(stored.sha256) == original
        assert stored.size_bytes == len(original)


def test_bytes_that_were_never_brought_in_are_not_there(folder: Path) -> None:
    with pytest.raises(KeyError):
        open_survey(folder).raw_bytes("0" * 64)


def test_the_same_measurement_from_another_file_is_there_already(
    folder: Path, raw: Path, tmp_path: Path
) -> None:
    other = tmp_path / "again.csv"
    text = (raw / "wheels" / "all.csv").read_text()
    other.write_text("# exported once more\n" + text)
    report = import_files(folder, [other])
    assert (report.added, report.already_there, report.superseded) == (0, 6, 0)


def test_a_later_measurement_supersedes_and_the_earlier_is_kept(
    folder: Path, rows: Callable[..., str], tmp_path: Path
) -> None:
    other = tmp_path / "corrected.csv"
    other.write_text(HEADER + rows("W1", "left", "autumn", 7.0))
    before = open_survey(folder)
    report = import_files(folder, [other])
    assert (report.added, report.already_there, report.superseded) == (1, 0, 1)
    after = open_survey(folder)
    assert after.wheel_outlines()["W1", "left"].outline.z_mm[15] == pytest.approx(7.0)
    assert before.wheel_outlines()["W1", "left"].outline.z_mm[15] == pytest.approx(1.1)
    revisions = [
        (one.revision, one.holds)
        for one in after.history("W1")
        if one.what == "outline" and one.side == "left" and one.campaign == "autumn"
    ]
    assert revisions == [(1, False), (2, True)]


def test_outlines_at_several_times_stand_side_by_side(
    folder: Path, rows: Callable[..., str], tmp_path: Path
) -> None:
    path = tmp_path / "train.csv"
    one, two = (rows("S1", "left", "autumn", shift) for shift in (5.0, 6.0))
    text = "section,side,campaign,y_mm,z_mm,time\n"
    text += one.replace("\n", ",2031-10-05 10:00\n") + two.replace("\n", ",2031-10-05 10:05\n")
    path.write_text(text)
    assert import_files(folder, [path]).added == 2
    survey = open_survey(folder)
    assert [raw.time for raw in survey.repeats("rail", "autumn")] == [
        "2031-10-05T10:00:00",
        "2031-10-05T10:05:00",
    ]
    assert survey.rail_outlines()["S1", "left"].outline.z_mm[15] == pytest.approx(6.0)


def recipe(**changed: str) -> str:
    facts = {"stylus_radius_mm": "0.0", "campaign": "spring", **changed}
    return (
        f'recipe = 1\nname = "invented device"\nkind = "wheel"\n'
        f"stylus_radius_mm = {facts['stylus_radius_mm']}\n"
        f'[fixed]\ncampaign = "{facts["campaign"]}"\n'
    )


@pytest.fixture
def device_file(rows: Callable[..., str], tmp_path: Path) -> Path:
    """Two outlines of a device that writes no campaign."""
    path = tmp_path / "device.csv"
    text = rows("W2", "left", "x", 8.0) + rows("W2", "right", "x", 9.0)
    path.write_text("wheelset,side,y_mm,z_mm\n" + text.replace(",x,", ","))
    return path


def test_a_corrected_recipe_supersedes_all_that_the_wrong_one_gave(
    folder: Path, device_file: Path
) -> None:
    wrong = recipe_from_text(recipe(campaign="autumn"))
    right = recipe_from_text(recipe(stylus_radius_mm="1.5"))
    assert import_files(folder, [device_file], recipe=wrong).added == 2
    assert {raw.campaign for raw in open_survey(folder).wheel_outlines().values()} == {"autumn"}
    report = import_files(folder, [device_file], recipe=right)
    assert (report.added, report.superseded) == (2, 4)
    survey = open_survey(folder)
    assert open_survey(folder, as_of=15).wheel_outlines("autumn")["W2", "left"].campaign == "autumn"
    assert ("W2", "left") not in survey.wheel_outlines("autumn")
    found = survey.wheel_outlines("spring")["W2", "left"]
    assert (found.stylus_radius_mm, found.recipe_name) == (1.5, "invented device")
    assert len([one for one in survey.history("W2") if one.what == "outline"]) == 6


def test_what_a_wrong_recipe_had_displaced_holds_again_after_its_correction(
    folder: Path, raw: Path, tmp_path: Path
) -> None:
    """A recipe that gave another wheelset's name must not have cost that wheelset its outlines."""
    path = tmp_path / "device.csv"
    frame = pl.read_csv(raw / "wheels" / "all.csv").filter(wheelset="W2")
    frame.drop("wheelset").with_columns(z_mm=pl.col("z_mm") + 9.0).write_csv(path)
    wrong, right = (
        recipe_from_text(f'recipe = 1\nkind = "wheel"\n[fixed]\nasset = "{asset}"\n')
        for asset in ("W1", "W2")
    )
    before = open_survey(folder).wheel_outlines("spring")["W1", "left"]
    import_files(folder, [path], recipe=wrong)
    spoiled = open_survey(folder).wheel_outlines("spring")["W1", "left"]
    assert spoiled.outline.z_mm[0] != before.outline.z_mm[0]
    import_files(folder, [path], recipe=right)
    after = open_survey(folder).wheel_outlines("spring")["W1", "left"]
    np.testing.assert_array_equal(after.outline.z_mm, before.outline.z_mm)
    assert (after.file, after.first_line) == (before.file, before.first_line)
    between = open_survey(folder, as_of=15).wheel_outlines("spring")["W1", "left"]
    np.testing.assert_array_equal(between.outline.z_mm, spoiled.outline.z_mm)


def test_what_a_corrected_recipe_leaves_the_same_stays(folder: Path, device_file: Path) -> None:
    first = recipe_from_text(recipe())
    renamed = recipe_from_text(recipe().replace("invented device", "the same, renamed"))
    import_files(folder, [device_file], recipe=first)
    report = import_files(folder, [device_file], recipe=renamed)
    assert (report.added, report.already_there, report.superseded) == (0, 2, 0)
    again = import_files(folder, [device_file], recipe=first)
    assert (again.added, again.already_there, again.superseded) == (0, 2, 0)


def test_back_and_forth_between_recipes_never_leaves_an_asset_bare(
    folder: Path, device_file: Path
) -> None:
    one, two, three = (recipe_from_text(recipe(stylus_radius_mm=r)) for r in ("0.0", "1.0", "0.0"))
    renamed = recipe_from_text(recipe().replace("invented device", "other name"))
    for each in (one, two, three, renamed):
        import_files(folder, [device_file], recipe=each)
        assert ("W2", "left") in open_survey(folder).wheel_outlines("spring")
    assert open_survey(folder).wheel_outlines("spring")["W2", "left"].stylus_radius_mm == 0.0


def test_a_changed_row_supersedes_the_row_and_no_other(folder: Path, raw: Path) -> None:
    text = (raw / "wheelsets.csv").read_text().replace("917.1", "917.3")
    (raw / "wheelsets.csv").write_text(text)
    report = build_survey(raw, folder)
    (changed,) = [one for one in report.files if one.kind == "wheelsets"]
    assert (changed.added, changed.already_there, changed.superseded) == (1, 2, 1)
    survey = open_survey(folder)
    assert survey.wheelsets("autumn")[0].left_diameter_mm == 917.3
    assert open_survey(folder, as_of=14).wheelsets("autumn")[0].left_diameter_mm == 917.1


def test_a_later_route_replaces_the_tracks_it_names(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "route.csv"
    path.write_text(
        "line,track,from_km,to_km,kind,speed_kmh\n"
        "Ostrel,1,0.0,1.5,straight,90\nOstrel,1,2.0,3.2,straight,90\nOstrel,1,3.0,4.0,straight,70\n"
        "Ostrel,2,0.0,4.0,straight,60\n"
    )
    report = import_files(folder, [path])
    assert (report.added, report.superseded) == (4, 6)
    survey = open_survey(folder)
    assert [piece.speed_kmh for piece in survey.routes["Ostrel", "1"].pieces] == [90, 90, 70]
    assert survey.routes["Ostrel", "1"].length_m == pytest.approx(3700.0)
    assert len(open_survey(folder, as_of=14).route_pieces) == 6


def test_reverting_a_table_is_a_revision_of_its_own(
    folder: Path, tables: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "lubricators.csv"
    for state in ("empty", "working"):
        path.write_text(tables["lubricators"].replace("working", state) + "\n")
        import_files(folder, [path])
    survey = open_survey(folder)
    assert survey.lubricators[0].state == "working"
    assert [one.revision for one in survey.history("L1")] == [1, 2, 3]


def test_workbooks_and_parquet_of_outlines(folder: Path, tmp_path: Path) -> None:
    y = np.linspace(-30.0, 30.0, 41)
    for at, ending in enumerate(("xlsx", "parquet")):
        frame = pl.DataFrame(
            {
                "wheelset": ["W2"] * 41,
                "side": ["left"] * 41,
                "campaign": ["autumn"] * 41,
                "y_mm": y,
                "z_mm": 0.01 * y + at,
            }
        )
        path = tmp_path / f"more.{ending}"
        frame.write_excel(path) if ending == "xlsx" else frame.write_parquet(path)
        assert import_files(folder, [path]).added == 1
    found = open_survey(folder).wheel_outlines("autumn")["W2", "left"]
    np.testing.assert_array_equal(found.outline.z_mm, 0.01 * y + 1)


def test_a_recipe_beside_the_outlines_applies_to_their_folder(
    raw: Path, rows: Callable[..., str], tmp_path: Path
) -> None:
    (raw / "rails" / "recipe.toml").write_text(
        'recipe = 1\nname = "clamp"\nkind = "rail"\nframe = "track-plane"\n'
    )
    assert build_survey(raw, tmp_path / "survey").refused == []
    found = open_survey(tmp_path / "survey").rail_outlines()["S1", "left"]
    assert (found.frame, found.recipe_name) == ("track-plane", "clamp")


def test_without_a_stated_frame_the_section_says_it(
    make_raw: Callable[..., Path], tables: dict[str, str], tmp_path: Path
) -> None:
    """The inclination must never be applied twice, so that the frame must not get lost."""
    lines = tables["sections"].splitlines()
    text = "\n".join([lines[0] + ",frame", *(line + ",track-plane" for line in lines[1:])])
    raw = make_raw(sections=text + "\n")
    assert build_survey(raw, tmp_path / "survey").refused == []
    found = open_survey(tmp_path / "survey").rail_outlines().values()
    assert {one.frame for one in found} == {"track-plane"}


def test_files_left_alone_are_told(raw: Path, tmp_path: Path) -> None:
    (raw / "wheels" / "photo.jpg").write_bytes(b"\xff\xd8")
    (raw / "notes.txt").write_text("remember the milk")
    report = build_survey(raw, tmp_path / "survey")
    assert report.refused == []
    assert len(report.notes) == 1
    assert "photo.jpg" in report.notes[0]


def test_the_report_as_plain_values(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "campaigns.csv"
    path.write_text("campaign,date\nwinter,01/02/2031\n")
    told = import_files(folder, [path]).to_dict()
    assert (told["added"], told["already_there"]) == (0, 0)
    (refused,) = told["refused"]  # type: ignore[misc]
    assert (refused["file"], refused["line"]) == (str(path), 2)
    assert "ambiguous-date" in refused["why"]


def test_the_store_is_a_sound_database_with_our_page_size(folder: Path) -> None:
    connection = sqlite3.connect(folder / "survey.sqlite")
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    assert connection.execute("PRAGMA page_size").fetchone() == (8192,)
    connection.close()
