"""Reading outlines: whatever the file's dialect, the same numbers come out.

Tables are written by other libraries than the one that reads them: Python's ``csv``, XlsxWriter,
pyarrow.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from tapertread.errors import OutlineRefused
from tapertread.shapes.reading.dates import iso_time
from tapertread.shapes.reading.header import split_name
from tapertread.shapes.reading.outlines import iter_outlines, read_outline, read_outlines
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.reading.recipe import Recipe, recipe_from_text

EXAMPLES = Path(__file__).parents[2] / "examples/recipes"
Y = [-60.0, -55.25, -40.5, 0.0, 12.125, 40.0]
Z = [-24.0, -28.0, -16.5, 0.0, 0.3, 1.0]


def table(path: Path, rows: Sequence[Sequence[object]], header: str = "y_mm,z_mm") -> Path:
    path.write_text(
        "\n".join([header, *(",".join(map(str, row)) for row in rows)]) + "\n", encoding="utf-8"
    )
    return path


def points(raw: RawOutline) -> list[tuple[float, float]]:
    return list(zip(raw.outline.y_mm.tolist(), raw.outline.z_mm.tolist(), strict=True))


SHAPE = list(zip(Y, Z, strict=True))


# --- the default: names and units in the header ---------------------------------------------------


@pytest.mark.parametrize(
    "header",
    [
        "y_mm,z_mm",
        "y [mm],z [mm]",
        "Y (mm),Z (mm)",
        "y/mm,z/mm",
        "Y mm,Z millimetres",
        '"y_mm",z_mm',
    ],
)
def test_headers_that_are_recognised(tmp_path: Path, header: str) -> None:
    reading = read_outlines(table(tmp_path / "w.csv", SHAPE, header), kind="wheel")
    assert points(reading.outlines[0]) == SHAPE
    assert (reading.outlines[0].asset, reading.outlines[0].side) == ("w", None)
    assert reading.refused == []


def test_columns_may_stand_in_any_order_among_others(tmp_path: Path) -> None:
    rows = [(z, "ok", y) for y, z in SHAPE]
    path = table(tmp_path / "w.csv", rows, "z_mm,remark,y_mm")
    assert points(read_outline(path, kind="rail")) == SHAPE


def test_us_inches_come_out_in_millimetres(tmp_path: Path) -> None:
    """International inch: 25.4 mm exactly (agreement of 1959)."""
    path = table(tmp_path / "w.csv", [(-1.0, -1.125), (0, 0), (1, 0.025), (2, 0.05)], "y_in,z_in")
    raw = read_outline(path, kind="wheel")
    assert np.allclose(raw.outline.y_mm, [-25.4, 0, 25.4, 50.8], rtol=1e-15)
    assert raw.outline.z_mm[0] == pytest.approx(-28.575, rel=1e-15)


def test_each_column_has_its_own_unit(tmp_path: Path) -> None:
    rows = [(y / 10, z * 1000) for y, z in SHAPE]
    raw = read_outline(table(tmp_path / "w.csv", rows, "y [cm],z (µm)"), kind="wheel")
    assert np.allclose(raw.outline.y_mm, Y, atol=1e-12)
    assert np.allclose(raw.outline.z_mm, Z, atol=1e-12)


def test_stated_units_beat_the_header_and_say_so(tmp_path: Path) -> None:
    path = table(tmp_path / "w.csv", [(0, 0), (1, 0), (2, 0), (3, 1)])
    reading = read_outlines(path, kind="wheel", units="in")
    assert reading.outlines[0].outline.y_mm[1] == 25.4
    assert "units in as told" in reading.notes[0]


def test_two_bare_columns_with_stated_units(tmp_path: Path) -> None:
    path = tmp_path / "bare.txt"
    path.write_text("\n".join(f"{y}\t{z}" for y, z in SHAPE), encoding="utf-8")
    raw = read_outline(path, kind="wheel", units="mm")
    assert points(raw) == SHAPE
    assert (raw.first_line, raw.last_line) == (1, len(SHAPE))


def test_grouping_columns_part_the_outlines(tmp_path: Path) -> None:
    rows = [
        (asset, side, "2031-a", y, z)
        for asset in ("W1", "W2")
        for side in ("left", "R")
        for y, z in SHAPE
    ]
    path = table(tmp_path / "all.csv", rows, "Wheelset,side,campaign,y_mm,z_mm")
    outlines = read_outlines(path).outlines
    assert [raw.record for raw in outlines] == [
        "W1 left 2031-a", "W1 right 2031-a", "W2 left 2031-a", "W2 right 2031-a",
    ]  # fmt: skip
    assert all(raw.kind == "wheel" and points(raw) == SHAPE for raw in outlines)
    assert [(raw.first_line, raw.last_line) for raw in outlines][:2] == [(2, 7), (8, 13)]


def test_a_column_section_means_rails(tmp_path: Path) -> None:
    path = table(tmp_path / "r.csv", [("S1", *point) for point in SHAPE], "section,y_mm,z_mm")
    reading = read_outlines(path)
    assert (reading.outlines[0].kind, reading.outlines[0].frame) == ("rail", "rail-axis")
    assert "frame not stated" in reading.notes[0]


def test_one_outline_can_be_chosen(tmp_path: Path) -> None:
    rows = [("W1", side, y, z) for side in ("left", "right") for y, z in SHAPE]
    path = table(tmp_path / "w.csv", rows, "wheelset,side,y_mm,z_mm")
    assert read_outline(path, side="right").first_line == 8
    with pytest.raises(OutlineRefused, match="many-outlines"):
        read_outline(path)
    with pytest.raises(OutlineRefused, match="no-such-outline"):
        read_outline(path, asset="W9")


# --- spreadsheets and their dialects --------------------------------------------------------------


def test_a_spreadsheet_export_with_all_its_habits(tmp_path: Path) -> None:
    text = (
        "\ufeffwheelset;side;y_mm;z_mm;;\r\n"
        "# a comment\r\n"
        "\r\n"
        '"W 1";left;"-60,0";-24,0;;\r\n'
        "W 1;left;-55,25;-28,0  ;;\r\n"
        ";;;;;\r\n"
        "W 1;left;0;0;;\r\n"
        "   \r\n"
        "W 1;left; 40,5;1,05;;\r\n\r\n"
    )
    path = tmp_path / "export.csv"
    path.write_bytes(text.encode("utf-8"))
    raw = read_outline(path)
    assert points(raw) == [(-60.0, -24.0), (-55.25, -28.0), (0.0, 0.0), (40.5, 1.05)]
    assert (raw.asset, raw.first_line, raw.last_line) == ("W 1", 4, 9)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, end: str) -> None:
    path = tmp_path / "w.csv"
    lines = ["wheelset,y_mm,z_mm", *(f"Überlauf,{y},{z}" for y, z in SHAPE)]
    path.write_bytes(end.join(lines).encode(encoding))
    raw = read_outline(path)
    assert (raw.asset, points(raw)) == ("Überlauf", SHAPE)


def test_an_old_encoding_by_recipe(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    lines = ["wheelset,y_mm,z_mm", *(f"Überlauf,{y},{z}" for y, z in SHAPE)]
    path.write_bytes("\n".join(lines).encode("cp1252"))
    recipe = recipe_from_text('recipe = 1\n[file]\nencoding = "cp1252"')
    assert read_outline(path, recipe).asset == "Überlauf"


def test_decimal_commas_are_taken_where_they_cannot_group_thousands(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text("y_mm;z_mm\n1,250;-0,125\n2;0\n3,5;0\n4;1\n", encoding="utf-8")
    assert points(read_outline(path, kind="rail"))[0] == (1.25, -0.125)


@st.composite
def dialects(draw: st.DrawFn) -> tuple[str, str, str, str, int]:
    delimiter = draw(st.sampled_from([";", ",", "\t", "|", " "]))
    decimal = draw(st.sampled_from([".", ","] if delimiter != "," else ["."]))
    end = draw(st.sampled_from(["\n", "\r\n"]))
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]))
    return delimiter, decimal, end, encoding, draw(st.integers(0, 3))


_LENGTHS = st.floats(-500.0, 500.0, allow_subnormal=False).map(lambda value: round(value, 6))
_CURVES = st.lists(st.tuples(_LENGTHS, _LENGTHS), min_size=4, max_size=30)


@settings(max_examples=60, deadline=None)
@given(
    dialect=dialects(), curves=st.lists(_CURVES, min_size=1, max_size=4), rows=st.integers(1, 50)
)
def test_any_dialect_gives_the_same_numbers(
    tmp_path_factory: pytest.TempPathFactory,
    dialect: tuple[str, str, str, str, int],
    curves: list[list[tuple[float, float]]],
    rows: int,
) -> None:
    delimiter, decimal, end, encoding, skipped = dialect
    path = tmp_path_factory.mktemp("dialect") / "t.txt"
    with path.open("w", encoding=encoding, newline="") as stream:
        stream.write(f"a line of the device, {delimiter}with anything{end}" * skipped)
        writer = csv.writer(stream, delimiter=delimiter, lineterminator=end)
        writer.writerow(["Nr", "across", "up"])
        for number, curve in enumerate(curves):
            for y, z in curve:
                cells = [repr(value).replace(".", decimal) for value in (y, z)]
                writer.writerow([f"W{number}", *cells])
    word = {"\t": "tab", " ": "whitespace"}.get(delimiter, delimiter)
    recipe = recipe_from_text(
        f'recipe = 1\nkind = "wheel"\n[file]\ndelimiter = "{word}"\ndecimal = "{decimal}"\n'
        f'encoding = "{encoding}"\nskip_lines = {skipped}\n'
        '[columns]\ny = "across"\nz = 3\nasset = "Nr"\n[units]\ny = "mm"\nz = "mm"\n'
    )
    reading = read_outlines(path, recipe, batch_rows=rows)
    assert reading.refused == []
    assert [points(raw) for raw in reading.outlines] == curves


@settings(max_examples=25, deadline=None)
@given(curves=st.lists(_CURVES, min_size=1, max_size=6), rows=st.integers(1, 40))
def test_batches_never_show(
    tmp_path_factory: pytest.TempPathFactory,
    curves: list[list[tuple[float, float]]],
    rows: int,
) -> None:
    cells = [(f"W{n}", y, z) for n, curve in enumerate(curves) for y, z in curve]
    folder = tmp_path_factory.mktemp("batches")
    whole = table(folder / "t.csv", cells, "wheelset,y_mm,z_mm")
    names, y, z = zip(*cells, strict=True)
    columnar = folder / "t.parquet"
    pq.write_table(pa.table({"wheelset": names, "y_mm": y, "z_mm": z}), columnar)
    for path in (whole, columnar):
        found = [r for r in iter_outlines(path, batch_rows=rows) if isinstance(r, RawOutline)]
        assert [points(raw) for raw in found] == curves


# --- workbooks and Parquet ------------------------------------------------------------------------


def workbook(path: Path, cells: dict[tuple[int, int], object], *sheets: str) -> Path:
    book = xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd"})
    for name in sheets or ("points",):
        sheet = book.add_worksheet(name)
    for (row, column), value in cells.items():
        sheet.write(row, column, value)
    book.close()
    return path


def shape_cells(row: int, column: int, *names: str) -> dict[tuple[int, int], object]:
    cells: dict[tuple[int, int], object] = {(row, column + i): name for i, name in enumerate(names)}
    for at, (y, z) in enumerate(SHAPE, start=1):
        cells |= {(row + at, column): y / 3, (row + at, column + 1): z / 3}
    return cells


def test_a_workbook_keeps_every_digit(tmp_path: Path) -> None:
    """Its writer rounds to 16 significant digits, its reader keeps what is written."""
    path = workbook(tmp_path / "w.xlsx", shape_cells(0, 0, "y_mm", "z_mm"))
    raw = read_outline(path, kind="wheel")
    assert np.allclose(points(raw), np.array(SHAPE) / 3, rtol=5e-16, atol=0.0)
    assert (raw.first_line, raw.last_line) == (2, 7)


def test_a_table_in_the_middle_of_a_named_sheet(tmp_path: Path) -> None:
    cells = shape_cells(3, 2, "y_in", "z_in") | {(0, 1): "Export of the bench"}
    path = workbook(tmp_path / "w.xlsx", cells, "summary", "points")
    recipe = recipe_from_text('recipe = 1\n[file]\nsheet = "points"\nskip_lines = 1')
    raw = read_outline(path, recipe, kind="rail")
    assert np.allclose(raw.outline.y_mm, np.array(Y) / 3 * 25.4, rtol=1e-14)
    assert (raw.first_line, raw.last_line) == (5, 10)


def test_sheet_columns_count_from_a(tmp_path: Path) -> None:
    path = workbook(tmp_path / "w.xlsx", shape_cells(0, 3, "across", "up"))
    recipe = recipe_from_text('recipe = 1\n[columns]\ny = 4\nz = 5\n[units]\ny = "mm"\nz = "mm"')
    assert points(read_outline(path, recipe, kind="rail"))[0] == (Y[0] / 3, Z[0] / 3)


def test_dates_of_a_workbook(tmp_path: Path) -> None:
    cells = shape_cells(0, 0, "y_mm", "z_mm", "date")
    cells |= {(row, 2): dt.date(2031, 4, 3) for row in range(1, 7)}
    assert read_outline(workbook(tmp_path / "w.xlsx", cells), kind="wheel").time == "2031-04-03"


def test_parquet_in_batches(tmp_path: Path) -> None:
    path = tmp_path / "w.parquet"
    data = {
        "section": ["S1"] * 6 + ["S2"] * 6,
        "side": ["left"] * 12,
        "y_mm": pa.array(Y * 2, pa.float32()),
        "z_mm": Z * 2,
    }
    pq.write_table(pa.table(data), path)
    outlines = read_outlines(path, batch_rows=5).outlines
    assert [raw.asset for raw in outlines] == ["S1", "S2"]
    assert [(raw.first_line, raw.last_line) for raw in outlines] == [(1, 6), (7, 12)]
    assert all(points(raw) == SHAPE for raw in outlines)


# --- what a recipe can do -------------------------------------------------------------------------


def recipe(text: str) -> Recipe:
    return recipe_from_text(f'recipe = 1\nkind = "wheel"\nname = "r"\n{text}')


def test_axes_are_swapped_then_flipped_then_shifted(tmp_path: Path) -> None:
    path = table(tmp_path / "w.csv", [(-z, 70 + y) for y, z in SHAPE])
    turned = recipe("[axes]\nswap = true\nflip_z = true\norigin_y_mm = -70.0")
    assert points(read_outline(path, turned)) == SHAPE


def test_one_side_may_be_flipped_alone(tmp_path: Path) -> None:
    rows = [("left", -y, z) for y, z in SHAPE] + [("right", y, z) for y, z in SHAPE]
    path = table(tmp_path / "w.csv", rows, "side,y_mm,z_mm")
    outlines = read_outlines(path, recipe('[axes]\nflip_y = "left"')).outlines
    assert [raw.side for raw in outlines] == ["left", "right"]
    assert all(points(raw) == SHAPE for raw in outlines)


def test_flipping_twice_changes_nothing(tmp_path: Path) -> None:
    path = table(tmp_path / "w.csv", [(-y, -z) for y, z in SHAPE])
    both = recipe("[axes]\nflip_y = true\nflip_z = true")
    once = read_outline(path, both).outline
    again = read_outline(
        table(tmp_path / "v.csv", zip(-once.y_mm, -once.z_mm, strict=True)), both
    ).outline
    assert np.array_equal(once.y_mm, again.y_mm)
    assert np.array_equal(once.z_mm, again.z_mm)


def test_what_the_recipe_knows_comes_with_the_outline(tmp_path: Path) -> None:
    path = table(tmp_path / "w.csv", SHAPE)
    known = recipe_from_text(
        'recipe = 1\nname = "bench"\nkind = "rail"\nframe = "track-plane"\ndevice = "B"\n'
        "repeatability_mm = 0.03\nstylus_radius_mm = 1.5\n"
        '[fixed]\nasset = "S9"\nside = "right"\ncampaign = "c"\ntime = "2031-04-02 14:05"'
    )
    raw = read_outline(path, known)
    assert (raw.recipe_name, raw.kind, raw.frame, raw.device) == (
        "bench", "rail", "track-plane", "B",
    )  # fmt: skip
    assert (raw.repeatability_mm, raw.stylus_radius_mm) == (0.03, 1.5)
    assert raw.record == "S9 right c 2031-04-02T14:05:00"
    assert raw.file == str(path)


def test_names_of_files_name_the_outlines(tmp_path: Path) -> None:
    path = table(tmp_path / "run3 W-21_RE_2031.csv", SHAPE)
    named = recipe(
        'file_name = "run* {asset}_{side}_{campaign}"\n[side_values]\nleft=["li"]\nright=["re"]'
    )
    assert read_outline(path, named).record == "W-21 right 2031"


def test_points_that_were_not_measured_may_be_left_out(tmp_path: Path) -> None:
    rows = [*SHAPE[:3], (-20, "-9999.0"), (-10, ""), (-5, "n/a"), *SHAPE[3:]]
    path = table(tmp_path / "w.csv", rows)
    form = '[file]\nmissing_texts = ["-9999", "n/a"]\nmissing_points = '
    assert points(read_outline(path, recipe(f'{form}"skip"'))) == SHAPE
    with pytest.raises(OutlineRefused, match="line 5, column z_mm"):
        read_outline(path, recipe(f'{form}"refuse"'))


def test_a_line_of_units_below_the_header_is_passed_over(tmp_path: Path) -> None:
    path = table(tmp_path / "w.csv", [("mm", "mm"), *SHAPE], "across,up")
    units = (
        '[file]\nskip_after_header = 1\n[columns]\ny = "across"\nz = "up"\n[units]\ny="mm"\nz="mm"'
    )
    raw = read_outline(path, recipe(units))
    assert (points(raw), raw.first_line) == (SHAPE, 3)


@pytest.mark.parametrize(
    ("header", "row", "wide"),
    [
        ("W,y1,y2,y3,y4,z1,z2,z3,z4", "A,1,2,3,4,5,6,7,8", 'y = "2-5"\nz = "6-9"'),
        ("W,y1,y2,y3,y4,z1,z2,z3,z4", "A,1,2,3,4,5,6,7,8", 'y = "y*"\nz = "z1, z2, z3-4, z*"'),
        ("W,a,b,c,d,e,f,g,h", "A,1,5,2,6,3,7,4,8", 'pairs = "2-9"'),
        ("W,h1,h2,h3,h4", "A,5,6,7,8", 'z = "h*"\ngrid = {first = 1.0, step = 1.0}'),
        ("W,h1,h2,h3,h4", "A,5,6,7,8", 'z = "2-5"\ngrid = [1, 2, 3, 4]'),
        ("W,1,2,3,4", "A,5,6,7,8", 'z = "2-5"\ngrid = "header"'),
    ],
)
def test_wide_rows(tmp_path: Path, header: str, row: str, wide: str) -> None:
    wide = wide.replace("z1, z2, z3-4, z*", "z1, z2, z[34]")
    path = tmp_path / "w.csv"
    path.write_text(f"{header}\n{row}\n", encoding="utf-8")
    text = f'layout = "wide"\n[columns]\nasset = "W"\n[units]\ny = "in"\nz = "mm"\n[wide]\n{wide}'
    raw = read_outline(path, recipe(text))
    assert raw.asset == "A"
    assert np.allclose(raw.outline.y_mm, np.array([1, 2, 3, 4]) * 25.4, rtol=1e-15)
    assert raw.outline.z_mm.tolist() == [5, 6, 7, 8]


def test_wide_rows_may_be_shorter_than_their_table(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text("W,1,2,3,4,5,6\nA,,5,6,7,8,\nB,1,2,,4,5,6\n", encoding="utf-8")
    text = (
        'layout = "wide"\n[columns]\nasset = "W"\n[units]\ny = "mm"\nz = "mm"\n[wide]\nz = "2-7"\n'
    )
    reading = read_outlines(path, recipe(f'{text}grid = "header"'))
    assert [points(raw) for raw in reading.outlines] == [[(2, 5), (3, 6), (4, 7), (5, 8)]]
    assert [(r["code"], r["line"], r["column"]) for r in reading.refused] == [
        ("missing-number", 3, "3")
    ]


# --- the examples, dates, names -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "told", "records"),
    [
        ("depot-gauge.csv", "depot-gauge.toml", ["W101 left 2031-03-04", "W101 right 2031-03-04"]),
        (
            "scanner-rails.csv",
            "scanner-rails.toml",
            ["S014 left 2031-spring", "S014 right 2031-spring", "S015 left 2031-spring"],
        ),
        ("B7_right_2031-fall.txt", "us-bench.toml", ["B7 right 2031-fall"]),
        ("pairs.csv", "pairs.toml", ["S020 left", "S020 right"]),
    ],
)
def test_the_examples_read(data: str, told: str, records: list[str]) -> None:
    reading = read_outlines(EXAMPLES / data, EXAMPLES / told)
    assert reading.refused == []
    assert [raw.record for raw in reading.outlines] == records


def test_the_same_shape_in_inches_and_millimetres_among_the_examples() -> None:
    """Both files were written from one curve, rounded to 0.001 mm and 0.0001 in."""
    metric = read_outline(
        EXAMPLES / "depot-gauge.csv", EXAMPLES / "depot-gauge.toml", side="left"
    ).outline
    inches = read_outline(EXAMPLES / "B7_right_2031-fall.txt", EXAMPLES / "us-bench.toml").outline
    rounding = 0.5e-4 * 25.4 + 0.5e-3
    assert np.abs(metric.y_mm - inches.y_mm).max() <= rounding
    assert np.abs(metric.z_mm - inches.z_mm).max() <= rounding


def test_a_rail_scanned_in_one_frame_is_mirrored_on_the_left() -> None:
    left, right = read_outlines(
        EXAMPLES / "scanner-rails.csv", EXAMPLES / "scanner-rails.toml"
    ).outlines[:2]
    worn = np.interp(-25.0, right.outline.y_mm, right.outline.z_mm)
    new = np.interp(-25.0, left.outline.y_mm[::-1], left.outline.z_mm[::-1])
    assert new - worn > 0.5


@pytest.mark.parametrize(
    ("text", "date_format", "iso"),
    [
        ("2031-04-02", "", "2031-04-02"),
        ("2031/4/2", "", "2031-04-02"),
        ("2031-04-02 00:00:00", "", "2031-04-02"),
        ("2031-04-02T14:05:30", "", "2031-04-02T14:05:30"),
        ("25.12.2031", "", "2031-12-25"),
        ("12/25/2031", "", "2031-12-25"),
        ("05.05.2031", "", "2031-05-05"),
        ("03.04.2031", "%d.%m.%Y", "2031-04-03"),
        ("03/04/31 8:15", "%m/%d/%y %H:%M", "2031-03-04T08:15:00"),
        ("", "%d.%m.%Y", ""),
    ],
)
def test_dates(text: str, date_format: str, iso: str) -> None:
    assert iso_time(text, date_format) == iso


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("y_mm", ("y", "mm", "")),
        ("Y [inch]", ("Y", "in", "")),
        ('z(")', ("z", "in", "")),
        ("Across, mm", ("Across,", "mm", "")),
        ("z / µm", ("z", "um", "")),
        ("z (furlong)", ("z", None, "furlong")),
        ("year", ("year", None, "")),
        ("side", ("side", None, "")),
    ],
)
def test_names_and_their_units(name: str, parts: tuple[str, str | None, str]) -> None:
    assert split_name(name) == parts


def test_a_block_may_begin_with_a_short_line(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text("y_mm;z_mm;remark\n1.5;2\n3;4\n5;6;good\n7;8;\n", encoding="utf-8")
    assert points(read_outline(path, kind="rail")) == [(1.5, 2), (3, 4), (5, 6), (7, 8)]


def test_headerless_rows_may_differ_in_length(tmp_path: Path) -> None:
    path = tmp_path / "w.txt"
    path.write_text("A 1 5 2 6 3 7 4 8\nB 1 5 2 6 3 7 4 8 5 9\n", encoding="utf-8")
    text = 'layout = "wide"\n[file]\nheader = false\n[columns]\nasset = 1\n'
    told = recipe(f'{text}[units]\ny = "mm"\nz = "mm"\n[wide]\npairs = "2-11"')
    reading = read_outlines(path, told)
    assert reading.refused == []
    assert [raw.outline.y_mm.size for raw in reading.outlines] == [4, 5]


def test_a_recipe_may_say_that_rows_are_comments(tmp_path: Path) -> None:
    path = table(tmp_path / "w.csv", [*SHAPE, ("# 1", 2), *[(41, 2)]])
    told = recipe('[file]\ncomment = "#"')
    assert points(read_outline(path, told)) == [*SHAPE, (41, 2)]


def test_blank_rows_and_doubled_quotes(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    rows = [
        "y_mm;z_mm;remark",
        ";;",
        '1;2;"a ""good"" one; really"',
        "2;3;",
        ";;",
        "3;4;",
        "4;5;",
        ";;",
    ]
    path.write_text("\n".join(rows), encoding="utf-8")
    raw = read_outline(path, kind="rail")
    assert points(raw) == [(1, 2), (2, 3), (3, 4), (4, 5)]
    assert (raw.first_line, raw.last_line) == (3, 7)
