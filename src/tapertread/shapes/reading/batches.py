"""Cells into numbers: rows of a table as arrays, with every cell that is none kept by its text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from tapertread.errors import OutlineRefused, Where
from tapertread.shapes.outline import Floats
from tapertread.shapes.reading.column_plan import ColumnPlan
from tapertread.shapes.reading.recipe_fields import FileForm
from tapertread.shapes.reading.table_chunk import Chunk, Lines
from tapertread.shapes.reading.tables_in import Table

_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+([eE][+-]?\d+)?")
_MAY_GROUP = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Rows of a table.

    Attributes
    ----------
    lines : ndarray, shape (n,)
        Line or row in the file.
    numbers : ndarray, shape (n, columns)
        NaN where a cell is blank, missing or unreadable.
    labels : polars.DataFrame
        Label columns as text, blank where there is none.
    bad : dict of (row, column) to str
        Text of the cells that are unreadable.
    """

    lines: Lines
    numbers: Floats
    labels: pl.DataFrame
    bad: dict[tuple[int, int], str]

    def part(self, begin: int, end: int) -> Batch:
        """Return some of the rows."""
        return Batch(
            lines=self.lines[begin:end],
            numbers=self.numbers[begin:end],
            labels=self.labels[begin:end],
            bad={(r - begin, c): t for (r, c), t in self.bad.items() if begin <= r < end},
        )

    def followed_by(self, other: Batch) -> Batch:
        """Return these rows and those of another batch after them."""
        count = self.lines.size
        return Batch(
            lines=np.concatenate((self.lines, other.lines)),
            numbers=np.concatenate((self.numbers, other.numbers)),
            labels=pl.concat((self.labels, other.labels)),
            bad={**self.bad, **{(r + count, c): t for (r, c), t in other.bad.items()}},
        )


def read_batches(table: Table, plan: ColumnPlan, form: FileForm, *, rows: int) -> Iterator[Batch]:
    """Yield the rows of a table as numbers and labels, blank rows left out.

    Raises
    ------
    OutlineRefused
        ``ambiguous-decimal-comma`` where commas might group thousands.
    """
    comma = _has_decimal_comma(table, plan, form)
    missing = frozenset(text.strip() for text in form.missing_texts)
    for chunk in table.chunks(rows=rows):
        batch = _batch(chunk, plan, comma=comma, missing=missing)
        if batch.lines.size:
            yield batch


def _batch(chunk: Chunk, plan: ColumnPlan, *, comma: bool, missing: frozenset[str]) -> Batch:
    columns = tuple(plan.labels.values())
    worded = chunk.texts(columns) if columns else pl.DataFrame()
    labels = worded.select(
        pl.col(str(at)).str.strip_chars().fill_null("").alias(label)
        for label, at in plan.labels.items()
    )
    if comma and not chunk.knows_numbers:
        numbers = np.full((chunk.lines.size, len(plan.numbers)), np.nan)
    else:
        numbers = np.asfortranarray(chunk.numbers(plan.numbers))
    batch = Batch(lines=chunk.lines, numbers=numbers, labels=labels, bad={})
    if missing or not np.isfinite(numbers).all():
        batch = _completed(batch, chunk, plan, comma=comma, missing=missing)
    return batch


def _completed(
    batch: Batch, chunk: Chunk, plan: ColumnPlan, *, comma: bool, missing: frozenset[str]
) -> Batch:
    """Return a batch whose other cells were read as text, rows without any content left out."""
    numbers = np.array(batch.numbers, order="F")
    values = [value for value in map(_plain_number, missing) if value is not None]
    numbers[np.isin(numbers, values)] = np.nan
    texts = chunk.texts(plan.numbers)
    bad: dict[tuple[int, int], str] = {}
    blank = np.ones(numbers.shape[0], dtype=bool)
    for column in range(numbers.shape[1]):
        at = np.flatnonzero(~np.isfinite(numbers[:, column]))
        cells = texts.to_series(column)[at].str.strip_chars().fill_null("")
        read, faulty = _read_cells(cells, comma=comma, missing=missing)
        read[np.isin(read, values)] = np.nan
        numbers[at, column] = read
        bad.update({(int(at[row]), column): str(cells[int(row)]) for row in faulty})
        filled = np.ones(numbers.shape[0], dtype=bool)
        filled[at] = (cells != "").to_numpy()
        blank &= ~filled
    whole = Batch(lines=batch.lines, numbers=numbers, labels=batch.labels, bad=bad)
    return _without_blank_rows(whole, blank)


def _read_cells(
    cells: pl.Series, *, comma: bool, missing: frozenset[str]
) -> tuple[Floats, Sequence[int]]:
    """Return the numbers of texts (NaN where there is none) and the places that hold other text."""
    plain = cells.str.replace(",", ".", literal=True) if comma else cells
    read = np.array(plain.cast(pl.Float64, strict=False).to_numpy(), dtype=np.float64)
    if comma:
        read[cells.str.contains(".", literal=True).to_numpy()] = np.nan
    read[~np.isfinite(read)] = np.nan
    faulty = np.isnan(read) & ~cells.is_in(["", *missing]).to_numpy()
    return read, np.flatnonzero(faulty).tolist()


def _plain_number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _without_blank_rows(
    batch: Batch, blank: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
) -> Batch:
    for label in batch.labels:
        blank = blank & (label == "").to_numpy()
    if not blank.any():
        return batch
    kept = np.flatnonzero(~blank)
    new = np.cumsum(~blank) - 1
    return Batch(
        lines=batch.lines[kept],
        numbers=batch.numbers[kept],
        labels=batch.labels[kept] if batch.labels.width else batch.labels,
        bad={(int(new[row]), column): text for (row, column), text in batch.bad.items()},
    )


def _has_decimal_comma(table: Table, plan: ColumnPlan, form: FileForm) -> bool:
    """Decide from the recipe, or from the first lines, whether the comma is the decimal sign."""
    if form.decimal != "auto":
        return form.decimal == ","
    doubtful: tuple[int, int, str] | None = None
    for line, cells in table.sample:
        for column in plan.numbers:
            text = cells[column].strip() if column < len(cells) else ""
            if "." in text and _is_plain(text) and doubtful is None:
                return False
            if _COMMA_NUMBER.fullmatch(text):
                if not _MAY_GROUP.fullmatch(text):
                    return True
                doubtful = doubtful or (line, column, text)
    if doubtful is None:
        return False
    line, column, text = doubtful
    raise OutlineRefused(
        "ambiguous-decimal-comma",
        f"the number {text!r}, whose comma may be a decimal sign or may group thousands",
        allowed='decimal points, or a recipe that says `decimal = ","`',
        todo="set file.decimal in a recipe",
        where=Where(
            file=str(table.path),
            line=line,
            column=plan.number_names[plan.numbers.index(column)],
        ),
    )


def _is_plain(text: str) -> bool:
    return _plain_number(text) is not None and "," not in text
