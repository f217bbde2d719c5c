"""Tables in workbooks and Parquet files, offered in the same way as those in text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Literal

import fastexcel
import numpy as np
import polars as pl

from tapertread.errors import FileRefused, RecipeRefused, Where
from tapertread.shapes.outline import Floats
from tapertread.shapes.reading.recipe_fields import FileForm
from tapertread.shapes.reading.table_chunk import Lines

SAMPLE_ROWS = 200

CellKind = Literal["string", "float"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameChunk:
    """Some rows of a table that knows its types.

    ``typed`` holds numbers where the file does; ``worded`` the same cells as text.
    """

    lines: Lines
    typed: pl.DataFrame
    worded: pl.DataFrame
    knows_numbers: bool = True

    def numbers(self, columns: tuple[int, ...]) -> Floats:
        """Return columns as float64, shape (rows, columns); NaN where a cell is no plain number."""
        return np.column_stack([_as_numbers(self.typed.to_series(at)) for at in columns])

    def texts(self, columns: tuple[int, ...]) -> pl.DataFrame:
        """Return columns as text, null where blank."""
        return pl.DataFrame({str(at): _as_text(self.worded.to_series(at)) for at in columns})


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """One sheet of a workbook; column numbers count from column A."""

    path: Path
    first_row: tuple[str, ...]
    header: bool
    data_line: int
    sample: tuple[tuple[int, tuple[str, ...]], ...]
    typed: pl.DataFrame = field(repr=False)
    worded: pl.DataFrame = field(repr=False)

    @property
    def column_count(self) -> int:
        """Number of columns."""
        return len(self.first_row)

    def chunks(self, *, rows: int) -> Iterator[FrameChunk]:
        """Yield the data in blocks of so many rows."""
        bounds = [*range(self.data_line - 1, self.worded.height, rows), self.worded.height]
        for begin, end in pairwise(bounds):
            yield FrameChunk(
                lines=np.arange(begin + 1, end + 1, dtype=np.int64),
                typed=self.typed[begin:end],
                worded=self.worded[begin:end],
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class ParquetTable:
    """A Parquet file; row 1 is the first row of data."""

    path: Path
    first_row: tuple[str, ...]
    sample: tuple[tuple[int, tuple[str, ...]], ...]
    header: bool = True

    @property
    def column_count(self) -> int:
        """Number of columns."""
        return len(self.first_row)

    def chunks(self, *, rows: int) -> Iterator[FrameChunk]:
        """Yield the data in blocks of at most so many rows."""
        begin = 1
        for batch in pl.scan_parquet(self.path).collect_batches(chunk_size=rows):
            lines = begin + np.arange(batch.height, dtype=np.int64)
            begin += batch.height
            yield FrameChunk(lines=lines, typed=batch, worded=batch)


def open_sheet(path: Path, form: FileForm) -> SheetTable:
    """Open the sheet that a recipe names, or the only one.

    Raises
    ------
    FileRefused
        If it is no workbook, or the sheet is empty.
    RecipeRefused
        If the named sheet is missing, or several sheets are there and none is named.
    """
    try:
        book = fastexcel.read_excel(path)
    except fastexcel.FastExcelError as fault:
        raise _not_readable(path, "a workbook .xlsx", str(fault)) from None
    name = _sheet_name(path, book.sheet_names, form)
    worded = _loaded(book, name, "string")
    if not worded.width:
        raise _empty(path, name)
    typed = _without_truth_values(_loaded(book, name, "float"), worded)
    rows = _rows_in_use(worded, skip=form.skip_lines)
    if not rows:
        raise _empty(path, name)
    first = rows[0]
    data = first + 1 + form.skip_after_header if form.header else first
    return SheetTable(
        path=path,
        first_row=_row_texts(worded, first),
        header=form.header,
        data_line=data + 1,
        sample=tuple((at + 1, _row_texts(worded, at)) for at in rows if at >= data)[:SAMPLE_ROWS],
        typed=typed,
        worded=worded,
    )


def open_parquet(path: Path) -> ParquetTable:
    """Open a Parquet file.

    Raises
    ------
    FileRefused
        If it is none, or holds no rows.
    """
    try:
        frame = pl.scan_parquet(path)
        head = frame.head(SAMPLE_ROWS).collect()
    except pl.exceptions.PolarsError as fault:
        raise _not_readable(path, "a Parquet file", str(fault)) from None
    if not head.height:
        raise _empty(path, "")
    texts = pl.DataFrame([_as_text(series) for series in head])
    return ParquetTable(
        path=path,
        first_row=tuple(head.columns),
        sample=tuple((at + 1, _row_texts(texts, at)) for at in range(texts.height)),
    )


def _without_truth_values(typed: pl.DataFrame, worded: pl.DataFrame) -> pl.DataFrame:
    """Return the numbers of a sheet without the 1 and 0 that its truth values were read as."""
    return typed.select(
        pl.when(~words.is_in(["true", "false"])).then(numbers).alias(numbers.name)
        for numbers, words in zip(typed, worded, strict=True)
    )


def _as_numbers(series: pl.Series) -> Floats:
    """Return a column as numbers; dates and truth values are none."""
    if not (series.dtype.is_numeric() or series.dtype == pl.String):
        return np.full(series.len(), np.nan)
    return np.asarray(series.cast(pl.Float64, strict=False).to_numpy(), dtype=np.float64)


def _as_text(series: pl.Series) -> pl.Series:
    if isinstance(series.dtype, pl.List | pl.Array | pl.Struct | pl.Binary):
        return series.is_null().replace_strict({True: None, False: "(not a plain value)"})
    return series.cast(pl.String)


def _row_texts(frame: pl.DataFrame, at: int) -> tuple[str, ...]:
    return tuple("" if cell is None else str(cell).strip() for cell in frame.row(at))


def _rows_in_use(frame: pl.DataFrame, *, skip: int) -> list[int]:
    filled = frame.select(
        pl.any_horizontal(pl.all().str.strip_chars().fill_null("") != "")
    ).to_series()
    return [at for at in filled.arg_true().to_list() if at >= skip]


def _sheet_name(path: Path, names: list[str], form: FileForm) -> str:
    if form.sheet in names:
        return form.sheet
    if not form.sheet and len(names) == 1:
        return names[0]
    found = f"no sheet {form.sheet!r}" if form.sheet else f"{len(names)} sheets and none named"
    raise RecipeRefused(
        "sheet-unknown",
        f"{found}; there are {', '.join(names)}",
        allowed="one of these sheets",
        todo="name it with file.sheet in a recipe",
        where=Where(file=str(path), record="file.sheet"),
    )


def _loaded(book: fastexcel.ExcelReader, name: str, kind: CellKind) -> pl.DataFrame:
    """Return a sheet with every column as text or number, columns left of its use put back."""
    sheet = book.load_sheet(name, header_row=None, skip_rows=0, dtypes=kind)
    if not sheet.width:
        return pl.DataFrame()
    frame: pl.DataFrame = sheet.to_polars()
    shift = int(sheet.available_columns()[0].absolute_index)
    blanks = [
        pl.Series(f"blank {at}", [None] * frame.height, frame.dtypes[0]) for at in range(shift)
    ]
    return pl.DataFrame([*blanks, *frame])


def _not_readable(path: Path, kind: str, fault: str) -> FileRefused:
    reason = fault.strip().splitlines()[0] if fault.strip() else "no reason given"
    return FileRefused(
        "unreadable-file",
        f"a file that cannot be read as {kind} ({reason})",
        allowed="text (CSV, TXT), a workbook .xlsx or a .parquet file",
        todo="export it again, or correct the file name's ending",
        where=Where(file=str(path)),
    )


def _empty(path: Path, sheet: str) -> FileRefused:
    return FileRefused(
        "empty-file",
        f"no cells in the sheet {sheet!r}" if sheet else "no rows",
        allowed="a table of points",
        todo="export the measurement again",
        where=Where(file=str(path)),
    )
