"""The folder that is written: the same bytes each time, the agreed columns, every trap planted."""

import hashlib
import json
import tomllib
from pathlib import Path

import msgspec
import numpy as np
import polars as pl
import pytest

from tapertread.demo import DemoTruth, write_demo
from tapertread.demo.plan import read_plan
from tapertread.railway import records
from tapertread.railway.records import Record
from tapertread.shapes.reading.outlines import read_outlines
from tapertread.shapes.reading.recipe import read_recipe
from tapertread.units import MM_PER_INCH, radius_m_from_degree_of_curve

CHECKSUMS = Path(__file__).with_name("checksums.toml")
TABLES: dict[str, type[Record]] = {
    "campaigns": records.Campaign,
    "vehicles": records.Vehicle,
    "wheelsets": records.Wheelset,
    "sections": records.Section,
    "route": records.RoutePiece,
    "kilometres": records.KilometreJump,
    "services": records.Service,
    "inspections": records.Inspection,
    "treatments": records.Treatment,
    "lubricators": records.Lubricator,
    "bands": records.ContactBand,
    "friction": records.FrictionReading,
}
TRAPS_OF_THE_TRADE = {
    "flange-back-worn",
    "burr-on-rim",
    "lip-on-gauge-corner",
    "lip-on-field-flank",
    "stylus-ball-not-removed",
    "section-not-square",
    "stitch-step",
    "glint",
    "grease",
    "smoothed-or-extrapolated-end",
    "scale-error",
    "datum-bias",
    "tilt",
    "correlated-noise",
    "sides-swapped",
    "kilometre-drift",
    "missing-diameter",
    "missing-outline",
    "nominal-gauge-only",
}


def _files(folder: Path) -> dict[str, bytes]:
    paths = sorted(path for path in folder.rglob("*") if path.suffix in (".csv", ".toml"))
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


@pytest.mark.parametrize("which", ["main", "us"])
def test_the_same_seed_gives_the_same_bytes(
    which: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    write_demo(tmp_path / "again", which=which)  # type: ignore[arg-type]
    assert _files(tmp_path / "again") == _files(request.getfixturevalue(f"{which}_folder"))


@pytest.mark.parametrize("which", ["main", "us"])
def test_bytes_are_those_that_were_pinned(which: str, request: pytest.FixtureRequest) -> None:
    """Points are rounded to 0.001 mm (1e-5 in), a thousand million times what libraries differ by.

    Where law, plan or a design is changed on purpose, `checksums.toml` is written anew with what
    the message shows.
    """
    files = _files(request.getfixturevalue(f"{which}_folder"))
    found = {name: hashlib.sha256(data).hexdigest()[:16] for name, data in files.items()}
    pinned = tomllib.loads(CHECKSUMS.read_text(encoding="utf-8"))[which]
    lines = "\n".join(f'"{name}" = "{value}"' for name, value in found.items())
    assert found == pinned, f"[{which}]\n{lines}"


def test_another_seed_gives_other_outlines(tmp_path: Path, us_folder: Path) -> None:
    write_demo(tmp_path / "other", which="us", seed=1)
    here, there = _files(us_folder), _files(tmp_path / "other")
    assert here.keys() == there.keys()
    assert here["rails/recorder-may31.csv"] != there["rails/recorder-may31.csv"]
    assert here["route.csv"] == there["route.csv"]


@pytest.mark.parametrize("which", ["main", "us"])
def test_lines_end_with_a_line_feed_and_text_is_plain(
    which: str, request: pytest.FixtureRequest
) -> None:
    for name, data in _files(request.getfixturevalue(f"{which}_folder")).items():
        assert b"\r" not in data, name
        assert data.endswith(b"\n"), name
        assert data.isascii(), name


def test_size_stays_small(main_folder: Path) -> None:
    assert sum(len(data) for data in _files(main_folder).values()) < 6_000_000


def test_metric_columns_are_the_fields_of_the_records(main_folder: Path) -> None:
    for name, kind in TABLES.items():
        frame = pl.read_csv(main_folder / f"{name}.csv", infer_schema=False)
        assert frame.columns == [field.name for field in msgspec.structs.fields(kind)], name
        assert frame.height > 0, name


def test_us_columns_say_inches_miles_and_degrees(us_folder: Path) -> None:
    route = pl.read_csv(us_folder / "route.csv")
    assert {"from_mi", "to_mi", "curve_deg", "cant_in", "speed_mph", "gauge_in"} <= set(
        route.columns
    )
    assert "tonnage_mgt_per_year" in route.columns
    vehicles = pl.read_csv(us_folder / "vehicles.csv")
    assert {"axle_load_kip", "maximum_speed_mph", "bogie_wheelbase_ft"} <= set(vehicles.columns)
    for name in TABLES.keys() - {"kilometres"}:
        columns = pl.read_csv(us_folder / f"{name}.csv", infer_schema=False).columns
        assert not [column for column in columns if column.endswith(("_mm", "_km", "_kmh", "_kn"))]


def test_us_values_come_back_as_what_was_planned(us_folder: Path, us_truth: DemoTruth) -> None:
    plan = read_plan("us")
    route = pl.read_csv(us_folder / "route.csv").filter(pl.col("kind") == "curve")
    radii = [radius_m_from_degree_of_curve(degree) for degree in route["curve_deg"].to_list()]
    assert radii == pytest.approx([curve.radius_m for curve in plan.curve], rel=1e-6)
    sections = pl.read_csv(us_folder / "sections.csv")
    for row in sections.filter(pl.col("gauge_known") == "measured").iter_rows(named=True):
        true = us_truth.sections[row["section"], row["campaign"]]
        assert row["gauge_in"] * MM_PER_INCH == pytest.approx(true.gauge_mm, abs=1.0)
        assert row["mi"] * 1.609344 == pytest.approx(true.km, abs=1e-5)
    wheelsets = pl.read_csv(us_folder / "wheelsets.csv").drop_nulls("left_diameter_in")
    for row in wheelsets.iter_rows(named=True):
        true_wheel = us_truth.wheelsets[row["wheelset"], row["campaign"]].left
        assert row["left_diameter_in"] * MM_PER_INCH == pytest.approx(
            true_wheel.diameter_mm, abs=0.5
        )


def test_outlines_read_with_the_default_form(main_folder: Path, main_truth: DemoTruth) -> None:
    for folder, whole in (("wheels", 240), ("rails", 160)):
        read = [read_outlines(path) for path in sorted((main_folder / folder).glob("*.csv"))]
        assert not [refused for one in read for refused in one.refused]
        missing = sum(
            one.trap == "missing-outline" and (one.asset.startswith("Q")) == (folder == "rails")
            for one in main_truth.planted
        )
        assert sum(len(one.outlines) for one in read) == whole - missing


def test_us_rails_read_with_their_recipe_only(us_folder: Path, us_truth: DemoTruth) -> None:
    recipe = read_recipe(us_folder / "rails" / "recipe.toml")
    reading = read_outlines(us_folder / "rails" / "recorder-may31.csv", recipe)
    assert len(reading.outlines) == 20
    assert not reading.refused
    first = reading.outlines[0]
    true = us_truth.sections["MP01", "may31"].left.outline
    assert np.ptp(first.outline.y_mm) == pytest.approx(np.ptp(true.y_mm), abs=0.6)
    crown = int(np.argmax(first.outline.z_mm))
    assert abs(first.outline.y_mm[crown] - first.outline.y_mm.mean()) < 20.0


def test_every_trap_of_the_trade_is_planted(main_truth: DemoTruth) -> None:
    assert {one.trap for one in main_truth.planted} == TRAPS_OF_THE_TRADE


def test_everything_planted_lies_on_something_that_exists(main_truth: DemoTruth) -> None:
    assets = {name for name, _ in (*main_truth.wheelsets, *main_truth.sections)}
    tracks = {one.track for one in main_truth.sections.values()}
    for one in main_truth.planted:
        assert one.asset in (tracks if one.trap == "kilometre-drift" else assets), one
        assert one.campaign in main_truth.campaigns


def test_swapped_sides_are_swapped_in_the_file(main_folder: Path, main_truth: DemoTruth) -> None:
    """The thick flange of SQ03-1 is the right one; the file of the second campaign says left."""
    spans = {}
    for campaign in main_truth.campaigns:
        for raw in read_outlines(main_folder / "wheels" / f"laser-{campaign}.csv").outlines:
            if raw.asset == "SQ03-1":
                low = raw.outline.z_mm < raw.outline.z_mm.min() + 15.0
                spans[campaign, raw.side] = np.ptp(raw.outline.y_mm[low])
    assert spans["spring31", "left"] < spans["spring31", "right"] - 2.0
    assert spans["spring32", "left"] > spans["spring32", "right"] + 4.0


def test_kilometres_drift_in_the_second_campaign_only(
    main_folder: Path, main_truth: DemoTruth
) -> None:
    sections = pl.read_csv(main_folder / "sections.csv")
    ahead_m = {
        (row["section"], row["campaign"]): 1e3
        * (row["km"] - main_truth.sections[row["section"], row["campaign"]].km)
        for row in sections.iter_rows(named=True)
    }
    assert max(abs(ahead_m[one, "spring31"]) for one, _ in main_truth.sections) < 1e-6
    assert ahead_m["Q101", "spring32"] == pytest.approx(0.0, abs=1e-6)
    assert 60.0 < ahead_m["Q132", "spring32"] < 85.0
    assert 0.0 < ahead_m["Q123", "spring32"] < ahead_m["Q131", "spring32"]


def test_missing_values_are_empty_and_nominal_gauge_says_so(main_folder: Path) -> None:
    wheelsets = pl.read_csv(main_folder / "wheelsets.csv")
    blank = wheelsets.filter(pl.col("left_diameter_mm").is_null())
    assert blank.select("wheelset", "campaign").rows() == [("BR07-2", "spring32")]
    nominal = pl.read_csv(main_folder / "sections.csv").filter(pl.col("gauge_known") == "nominal")
    assert set(nominal["section"]) == {"Q204", "Q206"}
    assert nominal["gauge_uncertainty_mm"].is_null().all()


def test_the_survey_says_that_it_is_invented(main_folder: Path, us_folder: Path) -> None:
    for folder in (main_folder, us_folder):
        config = tomllib.loads((folder / "survey.toml").read_text(encoding="utf-8"))
        assert config["survey"] == 1
        assert config["invented"] is True
        assert config["note"].startswith("INVENTED")
        for path in (*folder.glob("wheels/*.csv"), *folder.glob("rails/*.csv")):
            assert "INVENTED" in path.read_text(encoding="utf-8").partition("\n")[0]


def test_doubtful_rails_of_the_us_railroad_carry_their_mark(us_truth: DemoTruth) -> None:
    for one in us_truth.sections.values():
        assert one.left.outline.origin.label.endswith("(doubtful)")


def test_truth_file_is_strict_json_without_outlines(main_truth: DemoTruth) -> None:
    text = (main_truth.folder / "truth.json").read_text(encoding="utf-8")
    content = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} in truth.json"))
    assert content["invented"] is True
    assert len(content["wheelsets"]) == 120
    assert len(content["sections"]) == 80
    assert "outline" not in content["wheelsets"][0]["left"]


def test_readings_scatter_about_the_truth(main_folder: Path, main_truth: DemoTruth) -> None:
    """Diameters read with 0.1 mm deviation; 238 readings fix it within a tenth."""
    rows = pl.read_csv(main_folder / "wheelsets.csv").drop_nulls("left_diameter_mm")
    off = [
        row[f"{side}_diameter_mm"]
        - main_truth.wheelsets[row["wheelset"], row["campaign"]].wheel(side).diameter_mm  # type: ignore[arg-type]
        for row in rows.iter_rows(named=True)
        for side in ("left", "right")
    ]
    assert np.std(off) == pytest.approx(0.1, rel=0.15)
    assert abs(np.mean(off)) < 0.03


def test_worn_flange_backs_show_in_back_to_back(main_folder: Path, main_truth: DemoTruth) -> None:
    rows = pl.read_csv(main_folder / "wheelsets.csv")
    row = rows.row(
        by_predicate=(pl.col("wheelset") == "BR04-1") & (pl.col("campaign") == "spring32"),
        named=True,
    )
    true = main_truth.wheelsets["BR04-1", "spring32"]
    assert row["back_to_back_mm"] - true.back_to_back_mm == pytest.approx(2.6, abs=0.4)


def test_what_was_planted_on_one_outline_can_be_asked(main_truth: DemoTruth) -> None:
    found = main_truth.planted_on("SQ03-1", campaign="spring32", side="left")
    assert [one.trap for one in found] == ["sides-swapped"]
    assert not main_truth.planted_on("SQ03-1", campaign="spring31", side="left")
