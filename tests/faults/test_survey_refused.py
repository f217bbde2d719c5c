"""What a survey must refuse: every contradiction by name, with file, line and record, nothing kept.

Each test spoils one table of an invented survey that is sound otherwise.
"""

from __future__ import annotations

import runpy
from collections.abc import Callable
from pathlib import Path

import pytest

from tapertread.errors import FileRefused, RefusedInput, SurveyRefused
from tapertread.survey import ImportReport, build_survey, import_files, open_survey, read_config

FIXTURE = runpy.run_path(str(Path(__file__).parents[1] / "survey" / "conftest.py"))
TABLES: dict[str, str] = FIXTURE["TABLES"]

Build = Callable[..., ImportReport]


@pytest.fixture
def build(tmp_path: Path) -> Build:
    """Build a survey in which some tables have one text replaced by another."""

    def make(**changed: tuple[str, str]) -> ImportReport:
        tables = dict(TABLES)
        for name, (old, new) in changed.items():
            assert old in tables[name]
            tables[name] = tables[name].replace(old, new, 1)
        raw = FIXTURE["write_raw"](tmp_path / "raw", tables)
        return build_survey(raw, tmp_path / "survey")

    return make


def faults_of(report: ImportReport, name: str) -> list[tuple[str, int | None, str | None]]:
    """Return code, line and column of each refusal of one table."""
    (one,) = [file for file in report.files if Path(file.file).name == f"{name}.csv"]
    assert one.added == 0
    for fault in one.refusals:
        assert fault.allowed
        assert fault.todo
        assert Path(str(fault.where.file)).name == f"{name}.csv"
    return [(fault.code, fault.where.line, fault.where.column) for fault in one.refusals]


def test_the_unspoiled_survey_is_sound(build) -> None:
    assert build().refused == []


@pytest.mark.parametrize(
    ("table", "old", "new", "expected"),
    [
        ("campaigns", "autumn", "spring", [("duplicate-id", 3, None)]),
        ("wheelsets", "W2,V1,2", "W1,V1,2", [("duplicate-id", 3, None)]),
        ("sections", "S2,Ostrel", "S1,Ostrel", [("duplicate-id", 3, None)]),
        ("wheelsets", "W2,V1", "W2,V9", [("unknown-reference", 3, "vehicle")]),
        ("wheelsets", "1,autumn", "1,winter", [("unknown-reference", 4, "campaign")]),
        ("wheelsets", "W2,V1,2", "W2,V1,1", [("axle-twice", 3, "axle")]),
        ("sections", "2,spring", "2,winter", [("unknown-reference", 3, "campaign")]),
        ("sections", "S2,Ostrel,1,", "S2,Ostrel,7,", [("unknown-track", 3, "track")]),
        ("sections", "1,3.100,2", "1,9.100,2", [("kilometre-not-on-route", 3, "km")]),
        ("sections", "1,3.100,2", "1,3.100,", [("kilometre-ambiguous", 3, "km")]),
        ("sections", "1,1.250,", "1,1.700,", [("kilometre-not-on-route", 2, "km")]),
        ("sections", "1435.4", "1067.0", [("gauge-contradicts", 3, "gauge_mm")]),
        (
            "sections",
            "measured,1:40",
            "measured,40",
            [("inclination-unreadable", 2, "inclination")],
        ),
        ("services", "Marl", "Mral", [("unknown-reference", 2, "fleet")]),
        ("services", "Ostrel", "Osterl", [("unknown-reference", 2, "line")]),
        ("services", "1.0,100", "0.7,100\nMarl,Ostrel,0.7,80", [("duplicate-id", 3, None)]),
        ("inspections", "rail,S1", "rail,W1", [("unknown-reference", 2, "asset")]),
        ("treatments", "turning,W1", "turning,S1", [("unknown-reference", 2, "asset")]),
        ("lubricators", "1.050", "7.050", [("kilometre-not-on-route", 2, "km")]),
        ("bands", "S1", "S9", [("unknown-reference", 2, "section")]),
        ("friction", "left,spring,top", "left,summer,top", [("unknown-reference", 2, "campaign")]),
        ("route", "1.100,1.500", "1.050,1.500", [("overlapping-kilometres", 4, None)]),
        ("route", "curve,-450", "curve,", [("curve-without-radius", 4, None)]),
        ("route", "1.000,1.100,transition", "1.050,1.100,transition", None),
        ("kilometres", "1.500,2.000", "1.500,1.500", None),
    ],
)
def test_contradictions_are_refused_where_they_stand(
    build, table: str, old: str, new: str, expected: list[tuple[str, int, str]] | None
) -> None:
    report = build(**{table: (old, new)})
    if expected is None:
        assert {fault["code"] for fault in report.refused} & {
            "transition-without-neighbour",
            "jump-of-nothing",
        }
    else:
        assert faults_of(report, table) == expected


def test_shares_above_one(build) -> None:
    more = ("Marl,Ostrel,1.0,100", "Marl,Ostrel,0.6,100\nMarl,Ostrel 2,0.6,100")
    other = ("Ostrel,1,3.000,4.000", "Ostrel 2,1,0.000,1.000,straight,,,80,1\nOstrel,1,3.000,4.000")
    report = build(services=more, route=other)
    assert faults_of(report, "services") == [("shares-above-one", 3, "share")]


def test_a_friction_state_without_data_is_refused(build) -> None:
    report = build(
        route=(
            TABLES["route"],
            TABLES["route"]
            .replace("per_year\n", "per_year,friction_state\n")
            .replace(",8.5\n", ",8.5,slippery\n"),
        )
    )
    assert ("unknown-friction-state", 2, "friction_state") in faults_of(report, "route")


def test_a_gap_under_a_section_is_refused(build) -> None:
    report = build(route=("3.000,4.000,straight", "3.500,4.000,straight"))
    assert faults_of(report, "sections") == [("place-in-gap", 3, "km")]


def test_a_gap_where_nothing_was_measured_is_only_reported(build, tmp_path: Path) -> None:
    split = "3.000,3.500,straight,,,100,8.5\nOstrel,1,3.600,4.000,straight"
    assert build(route=("3.000,4.000,straight", split)).refused == []
    (gap,) = open_survey(tmp_path / "survey").routes["Ostrel", "1"].gaps
    assert (gap.from_km, gap.to_km) == (3.5, 3.6)


def test_a_route_that_would_strand_a_section_is_refused(build, tmp_path: Path) -> None:
    """The route alone is sound; the section that the survey holds is not on it any more."""
    build()
    path = tmp_path / "route.csv"
    path.write_text(
        "line,track,from_km,to_km,kind,speed_kmh\n"
        "Ostrel,1,0.0,1.1,straight,90\nOstrel,1,2.0,3.2,straight,90\nOstrel,1,3.0,4.0,straight,70\n"
    )
    before = open_survey(tmp_path / "survey").as_of
    report = import_files(tmp_path / "survey", [path])
    assert {fault["code"] for fault in report.refused} == {"place-in-gap"}
    assert {fault["record"] for fault in report.refused} == {"S1 spring", "S1 autumn"}
    assert open_survey(tmp_path / "survey").as_of == before


def test_one_fault_refuses_its_whole_file_and_no_other(build, tmp_path: Path) -> None:
    report = build(wheelsets=("917.5", "nine hundred"))
    assert faults_of(report, "wheelsets") == [("not-a-number", 3, "left_diameter_mm")]
    survey = open_survey(tmp_path / "survey")
    assert survey.wheelsets() == []
    assert len(survey.sections()) == 2


def test_what_leans_on_a_refused_file_is_refused_too_and_comes_in_once_mended(
    build, tmp_path: Path
) -> None:
    report = build(wheelsets=("917.5", "nine hundred"))
    spoiled = [Path(one.file).parent.name for one in report.files if one.kind == "outlines"]
    assert spoiled == ["wheels", "rails"]
    assert report.files[-2].refusals
    assert not report.files[-1].refusals
    raw = FIXTURE["write_raw"](tmp_path / "raw", TABLES)
    mended = build_survey(raw, tmp_path / "survey")
    assert mended.refused == []
    assert len(open_survey(tmp_path / "survey").wheel_outlines()) == 4


def test_the_list_of_refusals_is_kept_and_does_not_grow_by_repetition(
    build, tmp_path: Path
) -> None:
    build(campaigns=("2031-10-05", "05/10/2031"))
    first = open_survey(tmp_path / "survey").refusals()
    build(campaigns=("2031-10-05", "05/10/2031"))
    kept = open_survey(tmp_path / "survey").refusals()
    assert kept == first
    assert (kept[0].file, kept[0].code, kept[0].line) == ("campaigns.csv", "ambiguous-date", 3)
    assert "year first" in kept[0].why
    build()
    assert open_survey(tmp_path / "survey").refusals() == kept


LABELS = (
    "W9 left spring",
    "W1 left winter",
    "W1 left spring again",
    "W1 left spring",
    "W2 left spring",
    "W1 spring",
    "W1 left",
)
HEADER = "wheelset,side,campaign,y_mm,z_mm\n"


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        (HEADER + "{W9 left spring}", "unknown-reference", 2),
        (HEADER + "{W1 left winter}", "unknown-reference", 2),
        (HEADER + "{W1 left spring}{W2 left spring}{W1 left spring again}", None, None),
        ("wheelset,campaign,y_mm,z_mm\n{W1 spring}", "side-unknown", 2),
        ("wheelset,side,y_mm,z_mm\n{W1 left}", "campaign-unknown", 2),
        (HEADER + "W1,left,spring,0,0\nW1,left,spring,1,0\n", "too-few-points", None),
        (HEADER + "{W2 left spring}W1,left,spring,x,y\n", None, None),
    ],
)
def test_outlines_that_cannot_be_filed(
    build, tmp_path: Path, text: str, code: str | None, line: int | None
) -> None:
    """All or nothing: a file in which one outline is at fault leaves none behind."""
    build()
    path = tmp_path / "some.csv"
    for shift, names in enumerate(LABELS):
        label = ",".join(names.replace(" again", "").split())
        rows = "".join(f"{label},{y},{0.02 * y + shift:.3f}\n" for y in range(-20, 21, 2))
        text = text.replace("{" + names + "}", rows)
    path.write_text(text)
    before = open_survey(tmp_path / "survey")
    report = import_files(tmp_path / "survey", [path])
    assert report.added == 0
    assert len(report.refused) >= 1
    if code is not None:
        assert report.refused[0]["code"] == code
    if line is not None:
        assert report.refused[0]["line"] == line
    after = open_survey(tmp_path / "survey")
    assert after.as_of == before.as_of
    assert len(after.wheel_outlines("spring")) == 4
    assert {one.sha256 for one in after.files()} == {one.sha256 for one in before.files()}


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("some.csv", b"", "empty-file"),
        ("some.csv", b"\x00\x01\x02\x03" * 100, "binary-file"),
        ("some.csv", b"z_mm\n1\n2\n3\n4\n", "one-column"),
        ("some.xlsx", b"PK\x03\x04 torn", "unreadable-file"),
        ("some.parquet", b"PAR1 torn", "unreadable-file"),
        ("absent.csv", None, "unreadable-file"),
    ],
)
def test_files_that_cannot_be_read(
    build, tmp_path: Path, name: str, content: bytes | None, code: str
) -> None:
    build()
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    good = tmp_path / "campaigns.csv"
    good.write_text("campaign,date\nwinter,2031-12-20\n")
    report = import_files(tmp_path / "survey", [path, good])
    assert [fault["code"] for fault in report.refused] == [code]
    assert report.added == 1


def test_tables_that_are_none_and_tables_twice(build, tmp_path: Path) -> None:
    raw = FIXTURE["write_raw"](tmp_path / "raw", TABLES)
    (raw / "wheelset.csv").write_text("wheelset,diam\nW1,900\n")
    (raw / "bands.tsv").write_text(TABLES["bands"].replace(",", "\t"))
    report = build_survey(raw, tmp_path / "survey")
    assert [(Path(str(one["file"])).name, one["code"]) for one in report.refused] == [
        ("wheelset.csv", "unknown-table"),
        ("bands.tsv", "table-twice"),
    ]


def test_another_survey_is_not_built_over(build, tmp_path: Path) -> None:
    build()
    other = FIXTURE["write_raw"](tmp_path / "other", TABLES)
    config = other / "survey.toml"
    config.write_text(config.read_text().replace("Ostrel, invented", "Brae, invented"))
    with pytest.raises(SurveyRefused, match="another-survey"):
        build_survey(other, tmp_path / "survey")
    assert read_config(tmp_path / "survey").name == "Ostrel, invented"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "survey-version"),
        ("survey = 2\nname = 'x'\nlimits = ['eu-in-service']\n", "survey-version"),
        ("survey = 1\nname = 'x'\n", "bad-value"),
        ("survey = 1\nname = ''\nlimits = ['eu-in-service']\n", "bad-value"),
        ("survey = 1\nname = 'x'\nlimits = []\n", "bad-value"),
        ("survey = 1\nname = 'x'\nlimits = ['eu-in-srevice']\n", "unknown-limit-set"),
        ("survey = 1\nname = 'x'\nlimits = ['my.toml']\n", "unknown-limit-set"),
        ("survey = 1\nname = 'x'\nlimits = ['eu-in-service']\ncolour = 'red'\n", "bad-value"),
        ("survey = 1\nname = 'x'\nlimits = ['eu-in-service']\nunits = 'imperial'\n", "bad-value"),
        (
            "survey = 1\nname = 'x'\nlimits = ['eu-in-service']\n"
            "[[override]]\nid = 'a'\nvalue = nan\nedition = 'b'\nwhy = 'c'\n",
            "bad-value",
        ),
        ("survey = \n", "bad-toml"),
    ],
)
def test_configurations_that_cannot_be_used(tmp_path: Path, text: str, code: str) -> None:
    (tmp_path / "survey.toml").write_text(text)
    with pytest.raises(RefusedInput) as caught:
        read_config(tmp_path)
    assert caught.value.code == code
    assert caught.value.where.file == str(tmp_path / "survey.toml")


def test_a_folder_that_is_no_survey_gets_no_store(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="no-survey"):
        import_files(tmp_path, [])
    assert list(tmp_path.iterdir()) == []
