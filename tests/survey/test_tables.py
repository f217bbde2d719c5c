"""Tables of records: units, forms of file, strict cells."""

from __future__ import annotations

import datetime as dt
import math
import tomllib
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import xlsxwriter

from tapertread.errors import RefusedInput
from tapertread.railway import RoutePiece, Section, Vehicle, Wheelset
from tapertread.survey import read_table
from tapertread.survey.columns import RECORDS, table_kinds, unit_of
from tapertread.survey.tables import kind_of_columns

Write = Callable[[str, str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to(name: str, text: str) -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return to


def only(path: Path) -> Any:
    read = read_table(path)
    assert read.faults == ()
    (row,) = read.rows
    return row.record


def test_every_table_of_the_fixture_is_read(tables, write) -> None:
    for name, text in tables.items():
        read = read_table(write(f"{name}.csv", text))
        assert read.faults == ()
        assert len(read.rows) == len(text.splitlines()) - 1
        assert all(isinstance(row.record, RECORDS[name]) for row in read.rows)
        assert [row.line for row in read.rows] == list(range(2, len(read.rows) + 2))


def test_tables_are_known_by_their_columns_alone(tables) -> None:
    for name, text in tables.items():
        kind = kind_of_columns(text.splitlines()[0].split(","))
        assert kind is not None
        assert kind.name == name


def test_us_units_become_ours(write) -> None:
    """International inch, mile, pound; 1 kip = 4.448 kN (NIST SP 811, from memory)."""
    path = write(
        "route.csv",
        "line,track,from_mi,to_mi,kind,curve_deg,cant_in,speed_mph,tonnage_mgt_per_year,gauge_in\n"
        "Brae,1,10,10.5,curve,-4,3,40,12,56.5\n",
    )
    piece = only(path)
    assert piece.from_km == pytest.approx(16.09344)
    assert piece.to_km == pytest.approx(16.898112)
    assert piece.cant_mm == pytest.approx(76.2)
    assert piece.speed_kmh == pytest.approx(64.37376)
    assert piece.tonnage_mt_per_year == pytest.approx(12 * 0.90718474)
    assert piece.gauge_mm == pytest.approx(1435.1)


def test_degree_of_curve_by_the_100_ft_chord_keeps_its_sign(write) -> None:
    """R = 50 ft / sin(D/2): 4 degrees is 1432.69 ft (railway surveying handbooks, from memory)."""
    header = "line,track,from_km,to_km,kind,curve_deg,cant_mm,speed_kmh\n"
    piece = only(write("route.csv", header + "Brae,1,0,1,curve,-4,50,60\n"))
    assert piece.radius_m == pytest.approx(-1432.69 * 0.3048, rel=1e-5)
    straight = only(write("route.csv", header + "Brae,1,0,1,straight,0,0,60\n"))
    assert math.isinf(straight.radius_m)


def test_wheelsets_in_inches(write) -> None:
    path = write(
        "wheelsets.csv",
        "wheelset,vehicle,axle,campaign,left_diameter_in,back_to_back_in\nW,V,1,c,36,53.5\n",
    )
    wheelset = only(path)
    assert wheelset.left_diameter_mm == pytest.approx(914.4)
    assert wheelset.back_to_back_mm == pytest.approx(1358.9)
    assert wheelset.right_diameter_mm is None


def test_loads_in_kips_and_flags_in_words(write) -> None:
    path = write(
        "vehicles.csv",
        "vehicle,fleet,kind,wheel_design,axle_load_kip,powered\nV,F,freight,S1002,66,YES\n",
    )
    vehicle = only(path)
    assert isinstance(vehicle, Vehicle)
    assert vehicle.axle_load_kn == pytest.approx(293.58, abs=0.01)
    assert vehicle.powered is True


@pytest.mark.parametrize(
    ("field", "unit"),
    [
        ("gauge_mm", "mm"),
        ("km", "km"),
        ("from_km", "km"),
        ("tonnage_mt_per_year", "mt"),
        ("left_hardness_hb", None),
        ("axle", None),
        ("line", None),
    ],
)
def test_units_are_read_from_field_names(field: str, unit: str | None) -> None:
    assert unit_of(field) == unit


@pytest.mark.parametrize("radius", ["", "inf", "straight", "Straight"])
def test_a_straight_needs_no_radius(write, radius: str) -> None:
    path = write(
        "route.csv",
        f"line,track,from_km,to_km,kind,radius_m,speed_kmh\nL,1,0,1,straight,{radius},80\n",
    )
    piece = only(path)
    assert isinstance(piece, RoutePiece)
    assert math.isinf(piece.radius_m)


def test_the_same_table_from_workbook_and_parquet(tmp_path: Path) -> None:
    columns = {
        "section": ["S1", "S2"],
        "line": ["L", "L"],
        "track": [1, 1],
        "km": [1.25, 3.0],
        "campaign": ["c", "c"],
        "rail_design": ["60E1", "60E1"],
        "gauge_mm": [1435.6, None],
    }
    frame = pl.DataFrame(columns)
    frame.write_parquet(tmp_path / "sections.parquet")
    frame.write_excel(tmp_path / "sections.xlsx")
    frame.write_csv(tmp_path / "sections.csv")
    found = [
        [row.record for row in read_table(tmp_path / f"sections.{ending}").rows]
        for ending in ("csv", "xlsx", "parquet")
    ]
    assert found[0] == found[1] == found[2]
    assert isinstance(found[0][0], Section)
    assert found[0][1].gauge_mm is None


def test_dates_of_workbooks_are_dates(tmp_path: Path) -> None:
    path = tmp_path / "campaigns.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet()
        date = book.add_format({"num_format": "dd/mm/yyyy"})
        sheet.write_row(0, 0, ["campaign", "date"])
        sheet.write(1, 0, "spring")
        sheet.write_datetime(1, 1, dt.datetime(2031, 4, 2), date)
    assert only(path).date == "2031-04-02"


@pytest.mark.parametrize("separator", [";", "\t"])
def test_other_delimiters_comments_and_blank_lines(write, separator: str) -> None:
    text = "# invented\ncampaign,date\n\nspring,2031-04-02\n".replace(",", separator)
    read = read_table(write("campaigns.csv", text))
    assert [row.line for row in read.rows] == [4]


def test_capitals_and_blanks_in_headers_do_not_matter(write) -> None:
    assert (
        only(write("campaigns.csv", " Campaign , DATE\nspring,2031-04-02\n")).campaign == "spring"
    )


def test_a_table_of_only_a_header_is_empty(write) -> None:
    read = read_table(write("campaigns.csv", "campaign,date\n"))
    assert (read.rows, read.faults) == ((), ())


def fault_codes(path: Path) -> list[tuple[str, int | None, str | None]]:
    read = read_table(path)
    assert read.rows == ()
    assert all(fault.where.file == str(path) for fault in read.faults)
    return [(fault.code, fault.where.line, fault.where.column) for fault in read.faults]


def test_every_fault_of_a_file_is_named_and_nothing_of_it_is_kept(write) -> None:
    path = write(
        "wheelsets.csv",
        "wheelset,vehicle,axle,campaign,left_diameter_mm,back_to_back_mm\n"
        "W1,V1,1,c,918.2,1360\n"
        "W2,V1,one,c,918.2,1360\n"
        ",V1,2,c,36,1360\n"
        'W3,V1,3,c,NaN,"1,360"\n',
    )
    assert fault_codes(path) == [
        ("not-a-count", 3, "axle"),
        ("blank-cell", 4, "wheelset"),
        ("out-of-range", 4, "left_diameter_mm"),
        ("not-a-number", 5, "left_diameter_mm"),
        ("decimal-comma", 5, "back_to_back_mm"),
    ]


def test_a_fault_names_its_record(write) -> None:
    path = write("wheelsets.csv", "wheelset,vehicle,axle,campaign\nW2,V1,one,spring\n")
    (fault,) = read_table(path).faults
    assert fault.where.record == "W2 spring"


@pytest.mark.parametrize(
    ("date", "code"),
    [
        ("03/04/2031", "ambiguous-date"),
        ("2031-13-01", "unreadable-date"),
        ("next spring", "unreadable-date"),
    ],
)
def test_dates_that_read_two_ways_or_none_are_refused(write, date: str, code: str) -> None:
    assert fault_codes(write("campaigns.csv", f"campaign,date\nc,{date}\n")) == [(code, 2, "date")]


def test_a_column_without_its_unit_is_told_which_to_write(write) -> None:
    path = write(
        "sections.csv", "section,line,track,km,campaign,rail_design,gauge\nS,L,1,1,c,R,1435\n"
    )
    (fault,) = read_table(path).faults
    assert fault.code == "column-without-unit"
    assert "gauge_mm" in fault.allowed
    assert "gauge_in" in fault.allowed


def test_a_misspelled_column_gets_a_suggestion(write) -> None:
    path = write("campaigns.csv", "campaign,date,devise\nc,2031-04-02,x\n")
    (fault,) = read_table(path).faults
    assert (fault.code, fault.where.column) == ("unknown-column", "devise")
    assert "device" in fault.todo


def test_one_quantity_in_two_units_is_refused(write) -> None:
    path = write(
        "treatments.csv", "kind,asset,date,removed_mm,removed_in\nturning,W,2031-01-01,1,1\n"
    )
    assert fault_codes(path) == [("column-twice", 1, "removed_in")]


def test_missing_columns_are_named(write) -> None:
    assert fault_codes(write("campaigns.csv", "campaign,device\nc,x\n")) == [
        ("missing-column", 1, "date")
    ]


def test_unknown_words_and_flags_are_refused_with_the_words(write) -> None:
    path = write(
        "vehicles.csv", "vehicle,fleet,kind,wheel_design,powered\nV,F,wagon,S1002,perhaps\n"
    )
    read = read_table(path)
    assert [fault.code for fault in read.faults] == ["unknown-word", "not-a-flag"]
    assert "freight" in read.faults[0].allowed


def test_a_torn_last_line_is_refused(write) -> None:
    text = "kind,asset,date,removed_mm,note\nturning,W1,2031-06-11,6.2,\nturning,W2,2031-0"
    assert fault_codes(write("treatments.csv", text))[0] == ("too-few-cells", 3, None)


def test_a_curve_must_say_its_cant(write) -> None:
    path = write(
        "route.csv",
        "line,track,from_km,to_km,kind,radius_m,speed_kmh\nL,1,0,1,curve,300,80\n",
    )
    assert fault_codes(path) == [("curve-without-cant", 2, "cant_mm")]


def test_a_degree_beyond_the_chord_is_refused(write) -> None:
    path = write(
        "route.csv",
        "line,track,from_km,to_km,kind,curve_deg,cant_mm,speed_kmh\nL,1,0,1,curve,200,0,80\n",
    )
    assert fault_codes(path) == [("out-of-range", 2, "curve_deg")]


def test_a_wrong_unit_in_the_header_is_caught_by_the_range(write) -> None:
    path = write("wheelsets.csv", "wheelset,vehicle,axle,campaign,left_diameter_in\nW,V,1,c,918\n")
    (fault,) = read_table(path).faults
    assert fault.code == "out-of-range"
    assert "23317" in fault.found


def test_faults_of_one_file_are_not_listed_without_end(write) -> None:
    rows = "".join(f"W{n},V,x,c\n" for n in range(1000))
    read = read_table(write("wheelsets.csv", "wheelset,vehicle,axle,campaign\n" + rows))
    assert len(read.faults) == 200


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"campaign\nspring\n", "one-column"),
        (b"campaign,date\n\x00\x01\x02", "binary-file"),
        (b"campaign,date\nfr\xfchjahr,2031-04-02\n", "bad-encoding"),
        (b"alpha,beta\n1,2\n", "unknown-table"),
    ],
)
def test_files_that_are_no_tables_are_refused(tmp_path: Path, content: bytes, code: str) -> None:
    path = tmp_path / "some.csv"
    path.write_bytes(content)
    with pytest.raises(RefusedInput) as caught:
        read_table(path, kind="campaigns" if code == "bad-encoding" else None)
    assert caught.value.code == code


def test_every_column_has_a_text_and_every_number_a_range() -> None:
    for kind in table_kinds().values():
        assert kind.text.endswith(".")
        for column in kind.columns.values():
            assert column.text.endswith("."), (kind.name, column.name)
            numeric = column.meaning in ("number", "count")
            assert numeric == (column.low is not None and column.high is not None)


def test_the_words_of_the_columns_file_are_those_of_the_records() -> None:
    """No text may stand for a column that no longer exists."""
    text = files("tapertread.data").joinpath("columns.toml").read_text(encoding="utf-8")
    told = tomllib.loads(text)
    assert set(told) == set(RECORDS)
    for name, kind in table_kinds().items():
        assert set(told[name]["columns"]) == set(kind.columns)
        assert {*kind.key, *kind.part} <= set(kind.columns)


def test_records_can_be_made_from_any_row_alone() -> None:
    assert Wheelset(wheelset="W", vehicle="V", axle=1, campaign="c").back_to_back_mm is None
