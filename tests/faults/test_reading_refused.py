"""What the reader must refuse: each with a code, its place, what is allowed and what to do."""

from __future__ import annotations

import contextlib
import datetime as dt
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from tapertread.errors import FileRefused, OutlineRefused, RecipeRefused, RefusedInput, WrongUsage
from tapertread.shapes.reading import assembling
from tapertread.shapes.reading.outlines import iter_outlines, read_outline, read_outlines
from tapertread.shapes.reading.recipe import Recipe, recipe_from_text

GOOD = "".join(f"{y},{-y / 40}\n" for y in range(6))
RECIPE = 'recipe = 1\nkind = "wheel"\n'


def written(folder: Path, text: str | bytes, name: str = "t.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def refusal(path: Path, recipe: Recipe | None = None, **said: str) -> RefusedInput:
    with pytest.raises(RefusedInput) as caught:
        read_outlines(path, recipe, **({"kind": "wheel"} | said))  # type: ignore[arg-type]
    assert caught.value.allowed
    assert caught.value.todo
    assert caught.value.where.file == str(path)
    return caught.value


# --- files ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"\n\n  \n", "empty-file"),
        (b"\xef\xbb\xbf", "empty-file"),
        (b"# only\n# comments\n", "empty-file"),
        (b"y_mm,z_mm\n\n# no points\n", "empty-file"),
        (bytes(range(256)) * 20, "binary-file"),
        (b"y_mm,z_mm\n\x00\x01\x02", "binary-file"),
        (b"PK\x03\x04 a workbook under another name", "wrong-file-kind"),
        (b"PAR1", "wrong-file-kind"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "wrong-file-kind"),
        (b"y_mm\n1\n2\n3\n4\n", "one-column"),
        (b"1.0\n2.0\n3.0\n4.0\n", "one-column"),
        (b"y_mm,z_mm,w\n1,2,\xe9\n", "bad-encoding"),
        (b'y_mm,z_mm,w\n1,2,"open\n3,4,x\n', "unbalanced-quote"),
        (b'y_mm,z_mm,w\n1,2,"closed"too early\n', "unbalanced-quote"),
        (b"y_mm,z_mm\n1,2\n3,4,5\n", "too-many-cells"),
        (b"y_mm,z_mm\n1,5,2,5\n3,5,4,5\n", "ambiguous-decimal-comma"),
    ],
)
def test_files_that_cannot_be_read(tmp_path: Path, content: bytes, code: str) -> None:
    found = refusal(written(tmp_path, content))
    assert isinstance(found, FileRefused)
    assert found.code == code


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"y_mm,z_mm,w\n\n1,2,a\n1,2,\xe9\n", 4),
        (b'y_mm,z_mm,w\n# x\n1,2,"a"\n1,2,"b\n', 4),
        (b"y_mm,z_mm\n1,2\n\n# x\n3,4,5\n", 5),
        (b"y_mm,z_mm\n1,2\n3,4,,\n3,4,,5\n", 4),
    ],
)
def test_their_faults_are_placed_by_line(tmp_path: Path, content: bytes, line: int) -> None:
    assert refusal(written(tmp_path, content)).where.line == line


def test_a_row_that_looks_like_a_comment_is_not_lost(tmp_path: Path) -> None:
    rows = "".join(f"#7;{row.replace(',', ';')}\n" for row in GOOD.split())
    path = written(tmp_path, f"wheelset;y_mm;z_mm\n# about these wheels\n{rows}")
    found = refusal(path)
    assert (found.code, found.where.line) == ("comment-like-row", 3)
    kept = recipe_from_text('recipe = 1\n[file]\ncomment = "!"')
    assert read_outlines(path, kept, kind="wheel").outlines[0].asset == "#7"


def test_an_encoding_that_fails_far_into_the_file(tmp_path: Path) -> None:
    rows = b"y_mm,z_mm,w\n" + b"1,2,abc\n" * 60_000 + b"1,2,\xe9\n"
    found = refusal(written(tmp_path, rows))
    assert (found.code, found.where.line) == ("bad-encoding", 60_002)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none.csv").code == "unreadable-file"


@pytest.mark.parametrize("name", ["t.xlsx", "t.parquet"])
def test_workbooks_and_parquet_that_are_torn(tmp_path: Path, name: str) -> None:
    sign = b"PK\x03\x04" if name.endswith("xlsx") else b"PAR1"
    assert refusal(written(tmp_path, sign + b"torn" * 9, name)).code == "unreadable-file"
    assert refusal(written(tmp_path, b"y_mm,z_mm\n", name)).code == "wrong-file-kind"


def test_a_workbook_with_an_empty_sheet_or_several(tmp_path: Path) -> None:
    path = tmp_path / "t.xlsx"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("one")
    book.close()
    assert refusal(path).code == "empty-file"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("one")
    book.add_worksheet("two")
    book.close()
    found = refusal(path)
    assert found.code == "sheet-unknown"
    assert "one, two" in found.found
    assert refusal(path, recipe_from_text('recipe = 1\n[file]\nsheet = "on"')).code == (
        "sheet-unknown"
    )


def test_a_parquet_file_without_rows(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"y_mm": [], "z_mm": []}), path)
    assert refusal(path).code == "empty-file"


@settings(max_examples=150, deadline=None)
@given(
    content=st.one_of(
        st.binary(max_size=200),
        st.text('yz_mm,;"\t\n\r #.-123e\ufeff', max_size=120).map(lambda text: text.encode()),
        st.text('1.,;" \n', max_size=80).map(lambda text: f"y_mm;z_mm\n{text}".encode()),
    ),
    name=st.sampled_from(["t.csv", "t", "t.parquet", "t.xlsx"]),
    units=st.sampled_from([None, "mm"]),
)
def test_whatever_the_bytes_a_file_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, name: str, units: str | None
) -> None:
    path = written(tmp_path_factory.mktemp("fuzz"), content, name)
    with contextlib.suppress(RefusedInput):
        assert list(iter_outlines(path, kind="wheel", units=units))  # type: ignore[arg-type]


def test_a_line_longer_than_any_table(tmp_path: Path) -> None:
    assert refusal(written(tmp_path, b"y" * 300_000)).code == "one-column"


# --- headers, units, kinds ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "code", "column"),
    [
        ("y,z", "units-absent", "y"),
        ("y_mm,z", "units-absent", "z"),
        ("y_furlong,z_mm", "unknown-unit", "y_furlong"),
        ("y_mm,z [rod]", "unknown-unit", "z [rod]"),
        ("x_mm,z_mm", "missing-column", "y"),
        ("y_mm,height", "missing-column", "z"),
        ("y_mm,y_in", "two-columns", "y_in"),
        ("1.0,2.0", "header-missing", None),
        ("-1,5e3", "header-missing", None),
    ],
)
def test_headers_that_do_not_say_enough(
    tmp_path: Path, header: str, code: str, column: str | None
) -> None:
    found = refusal(written(tmp_path, f"{header}\n{GOOD}"))
    assert isinstance(found, OutlineRefused)
    assert (found.code, found.where.column) == (code, column)


def test_missing_columns_list_what_was_found_and_what_is_allowed(tmp_path: Path) -> None:
    found = refusal(written(tmp_path, "lateral,height,remark\n1,2,3\n"))
    assert "`lateral`, `height`, `remark`" in found.found
    assert "`y_mm`" in found.allowed


def test_three_bare_columns_are_refused_even_with_units(tmp_path: Path) -> None:
    assert refusal(written(tmp_path, "1,2,3\n4,5,6\n"), units="mm").code == "header-missing"


def test_two_columns_for_one_label(tmp_path: Path) -> None:
    found = refusal(written(tmp_path, "wheelset,section,y_mm,z_mm\nW,S,1,2\n"))
    assert found.code == "two-columns"


def test_units_that_nobody_knows(tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="furlong"):
        read_outlines(written(tmp_path, GOOD), units="furlong")  # type: ignore[arg-type]


def test_the_kind_must_be_said_and_agreed(tmp_path: Path) -> None:
    path = written(tmp_path, f"y_mm,z_mm\n{GOOD}")
    with pytest.raises(OutlineRefused, match="kind-unknown"):
        read_outlines(path)
    rows = "".join(f"W1,{row}\n" for row in GOOD.split())
    path = written(tmp_path, f"wheelset,y_mm,z_mm\n{rows}")
    assert refusal(path, kind="rail").code == "kind-contradicts"
    assert refusal(path, recipe_from_text('recipe = 1\nkind = "rail"')).code == "kind-contradicts"


# --- single outlines: refused alone, the others kept ----------------------------------------------

SPOILT = {
    "text": ("3,abc", "not-a-number", "z_mm"),
    "nan": ("NaN,1", "not-a-number", "y_mm"),
    "infinite": ("3,inf", "not-a-number", "z_mm"),
    "blank": ("3,", "missing-number", "z_mm"),
    "two numbers in one": ("3 4,1", "not-a-number", "y_mm"),
    "decimal comma": ('3,"1,5"', "not-a-number", "z_mm"),
    "grouped thousands": ('"1,234.5",1', "not-a-number", "y_mm"),
    "hexadecimal": ("0x10,1", "not-a-number", "y_mm"),
    "underscored": ("1_0,1", "not-a-number", "y_mm"),
}


@pytest.mark.parametrize("case", sorted(SPOILT))
@pytest.mark.parametrize("batch_rows", [3, 1000])
def test_a_bad_cell_spoils_its_outline_only(tmp_path: Path, case: str, batch_rows: int) -> None:
    cell, code, column = SPOILT[case]
    good = [f"{{}},{y}.5,1" for y in range(5)]
    lines = [row.format("A") for row in good]
    lines += ["B,1.5,1", "B,2,1", f"B,{cell}", f"B,{cell}", "B,4,1"]
    lines += [row.format("C") for row in good]
    path = written(tmp_path, "\n".join(["wheelset,y_mm,z_mm", *lines]))
    reading = read_outlines(path, batch_rows=batch_rows)
    assert [raw.asset for raw in reading.outlines] == ["A", "C"]
    assert len(reading.refused) == 1
    found = reading.refused[0]
    assert (found["code"], found["line"], found["column"]) == (code, 9, column)
    assert (found["record"], found["file"]) == ("B", str(path))


def test_three_points_are_no_outline(tmp_path: Path) -> None:
    rows = "A,1,1\nA,2,1\nA,3,1\n" + "".join(f"B,{y},1\n" for y in range(4))
    reading = read_outlines(written(tmp_path, f"wheelset,y_mm,z_mm\n{rows}"))
    assert [raw.asset for raw in reading.outlines] == ["B"]
    found = reading.refused[0]
    assert (found["code"], found["line"], found["record"]) == ("too-few-points", 2, "A")


def run(asset: str, side: str, count: int = 4) -> str:
    return "".join(f"{asset},{side},{y},1\n" for y in range(count))


def test_an_outline_that_comes_twice_is_refused_once(tmp_path: Path) -> None:
    rows = run("A", "left") + run("A", "right") + run("A", "L") + run("B", "left") + run("A", "l")
    reading = read_outlines(written(tmp_path, f"wheelset,side,y_mm,z_mm\n{rows}"))
    assert [raw.record for raw in reading.outlines] == ["A left", "A right", "B left"]
    assert [(r["code"], r["line"], r["record"]) for r in reading.refused] == [
        ("duplicate-outline", 10, "A left")
    ]
    assert "line 2" in str(reading.refused[0]["found"])


def test_an_outline_that_was_spoilt_cannot_come_again(tmp_path: Path) -> None:
    rows = run("A", "left", 2) + run("B", "left") + run("A", "left")
    reading = read_outlines(written(tmp_path, f"wheelset,side,y_mm,z_mm\n{rows}"))
    assert [r["code"] for r in reading.refused] == ["too-few-points", "duplicate-outline"]


def test_sides_names_and_dates_that_cannot_be_read(tmp_path: Path) -> None:
    lines = [
        f"{asset},{side},{date},{y},1"
        for asset, side, date in (
            ("A", "left", "2031-04-02"),
            ("B", "port", "2031-04-02"),
            ("", "left", "2031-04-02"),
            ("D", "left", "03.04.2031"),
            ("E", "left", "31.02.2031"),
            ("F", "left", "2 April"),
            ("G", "left", "2031-04-02 25:00"),
            ("H", "left", "03.04.31"),
        )
        for y in range(4)
    ]
    path = written(tmp_path, "\n".join(["wheelset,side,date,y_mm,z_mm", *lines]))
    reading = read_outlines(path)
    assert [raw.asset for raw in reading.outlines] == ["A"]
    assert [r["code"] for r in reading.refused] == [
        "unknown-side",
        "asset-missing",
        "ambiguous-date",
        *["unreadable-date"] * 4,
    ]
    assert [r["line"] for r in reading.refused] == list(range(6, 34, 4))


def test_refusals_come_in_their_place_while_iterating(tmp_path: Path) -> None:
    rows = run("A", "left") + run("B", "up") + run("C", "left")
    path = written(tmp_path, f"wheelset,side,y_mm,z_mm\n{rows}")
    kinds = [type(result).__name__ for result in iter_outlines(path, batch_rows=2)]
    assert kinds == ["RawOutline", "OutlineRefused", "RawOutline"]


def test_the_only_outline_hands_on_its_refusal(tmp_path: Path) -> None:
    path = written(tmp_path, f"y_mm,z_mm\n{GOOD}7,x\n")
    with pytest.raises(OutlineRefused, match=r"line 8, column z_mm.*'x'"):
        read_outline(path, kind="wheel")


def test_a_file_that_cannot_be_read_is_refused_before_iterating(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="empty-file"):
        iter_outlines(written(tmp_path, ""), kind="wheel")


def test_a_table_that_does_not_part_its_outlines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assembling, "MOST_POINTS", 50)
    rows = "".join(f"{y},1\n" for y in range(60))
    found = refusal(written(tmp_path, f"y_mm,z_mm\n{rows}"))
    assert (found.code, found.where.line) == ("too-many-points", 2)


def test_commas_that_may_group_thousands(tmp_path: Path) -> None:
    found = refusal(written(tmp_path, "y_mm;z_mm\n1,234;2\n2,345;3\n3,000;4\n4;5\n"))
    assert (found.code, found.where.line, found.where.column) == (
        "ambiguous-decimal-comma", 2, "y_mm",
    )  # fmt: skip


def test_mixed_decimal_signs_name_the_first_odd_cell(tmp_path: Path) -> None:
    path = written(tmp_path, "y_mm;z_mm\n1,5;2\n2;3,25\n3;4.5\n4;5\n")
    with pytest.raises(OutlineRefused, match=r"line 4, column z_mm.*'4\.5'"):
        read_outline(path, kind="wheel")


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        ("about 3", "about 3"),
        (True, "true"),
        (dt.date(2031, 4, 2), "2031-04-02"),
        ("#DIV/0!", "a blank cell"),
    ],
)
def test_cells_of_a_workbook_that_are_no_numbers(tmp_path: Path, cell: object, shown: str) -> None:
    path = tmp_path / "t.xlsx"
    book = xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd"})
    sheet = book.add_worksheet()
    for row, cells in enumerate([("y_mm", "z_mm"), (1.5, 2), (2, 3), (3, 4), (4, 5)]):
        sheet.write_row(row, 0, cells)
    if cell == "#DIV/0!":
        sheet.write_formula(2, 1, "=1/0", None, cell)
    else:
        sheet.write(2, 1, cell)
    book.close()
    with pytest.raises(OutlineRefused, match=f"line 3, column z_mm.*{shown}"):
        read_outline(path, kind="wheel")


def test_nan_and_null_in_parquet(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    for bad, code in ((float("nan"), "not-a-number"), (None, "missing-number")):
        pq.write_table(pa.table({"y_mm": [1.0, 2.0, 3.0, 4.0], "z_mm": [1.0, 1.0, bad, 1.0]}), path)
        reading = read_outlines(path, kind="rail")
        assert [(r["code"], r["line"]) for r in reading.refused] == [(code, 3)]


def test_nested_columns_in_parquet(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"y_mm": [[1.0], [2.0]], "z_mm": [1.0, 2.0]}), path)
    found = read_outlines(path, kind="rail").refused[0]
    assert (found["code"], found["column"]) == ("not-a-number", "y_mm")


# --- recipes that contradict their file -----------------------------------------------------------

TABLE = "Wheel;Across;Up_mm\n" + "".join(f"1;{y};{-y / 40}\n" for y in range(5))
UNITS = '[units]\ny = "mm"\nz = "mm"\n'


@pytest.mark.parametrize(
    ("text", "code", "record"),
    [
        ('[file]\nformat = "xlsx"', "format-contradicts", "file.format"),
        ('[file]\ndelimiter = "|"', "delimiter-contradicts", "file.delimiter"),
        ('[columns]\ny = "Acros"', "missing-column", "columns.y"),
        ('[columns]\ny = 4\nz = "Up_mm"', "missing-column", "columns.y"),
        ('[columns]\ny = 2\nz = "Up_mm"\nside = "Side"', "missing-column", "columns.side"),
        ('[columns]\ny = 2\nz = 2\n[units]\ny = "mm"\nz = "mm"', "said-twice", "columns"),
        ('[columns]\ny = 2\nz = 3\n[units]\ny = "mm"\nz = "in"', "units-contradict", "units.z"),
        (
            f'file_name = "run_{{asset}}"\n[columns]\ny = 2\nz = 3\n{UNITS}',
            "file-name",
            "file_name",
        ),
        ("[file]\nheader = false", "missing-column", "columns.y"),
        (f'layout = "wide"\n{UNITS}[wide]\npairs = "1-3"', "layout-contradicts", "wide.pairs"),
        (f'layout = "wide"\n{UNITS}[wide]\ny = "1-2"\nz = "3"', "layout-contradicts", "wide"),
        (
            f'layout = "wide"\n{UNITS}[wide]\nz = "1-3"\ngrid = [1.0]',
            "layout-contradicts",
            "wide",
        ),
        (
            f'layout = "wide"\n{UNITS}[wide]\nz = "1-3"\ngrid = "header"',
            "grid-contradicts",
            "wide.grid",
        ),
        (f'layout = "wide"\n{UNITS}[wide]\npairs = "Z*"', "missing-column", "wide.pairs"),
    ],
)
def test_recipes_that_contradict_their_file(
    tmp_path: Path, text: str, code: str, record: str
) -> None:
    found = refusal(written(tmp_path, TABLE), recipe_from_text(RECIPE + text))
    assert isinstance(found, RecipeRefused)
    assert (found.code, found.where.record) == (code, record)


def test_a_missing_column_names_the_nearest_and_all(tmp_path: Path) -> None:
    found = refusal(written(tmp_path, TABLE), recipe_from_text(f'{RECIPE}[columns]\ny = "Acros"'))
    assert "`Across`" in found.todo
    assert "`Wheel`, `Across`, `Up_mm`" in found.found


def test_a_flip_on_one_side_needs_a_side(tmp_path: Path) -> None:
    path = written(tmp_path, f"y_mm,z_mm\n{GOOD}")
    reading = read_outlines(path, recipe_from_text(f'{RECIPE}[axes]\nflip_y = "left"'))
    assert [r["code"] for r in reading.refused] == ["side-missing"]


def test_a_frame_for_wheels(tmp_path: Path) -> None:
    path = written(tmp_path, f"y_mm,z_mm\n{GOOD}")
    assert refusal(path, recipe_from_text('recipe = 1\nframe = "rail-axis"')).code == (
        "frame-contradicts"
    )


def test_a_date_against_the_recipes_form(tmp_path: Path) -> None:
    rows = "".join(f"2031-04-02,{row}\n" for row in GOOD.split())
    path = written(tmp_path, f"date,y_mm,z_mm\n{rows}")
    told = recipe_from_text(f'{RECIPE}[file]\ndate_format = "%d.%m.%Y"')
    assert [r["code"] for r in read_outlines(path, told).refused] == ["unreadable-date"]


def test_reading_changes_no_file(tmp_path: Path) -> None:
    path = written(tmp_path, f"y_mm,z_mm\n{GOOD}1,x\n")
    before = path.read_bytes()
    read_outlines(path, kind="wheel")
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["t.csv"]
