"""Reading one table of records: all of it, or its faults with file, line, column and record."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from tapertread.errors import RefusedInput, SurveyRefused, Where
from tapertread.railway.records import Record
from tapertread.shapes.reading.recipe_fields import FileForm
from tapertread.shapes.reading.table_chunk import Chunk
from tapertread.shapes.reading.tables_in import Table, open_table
from tapertread.shapes.reading.text_table import TextChunk
from tapertread.survey.cells import value_of
from tapertread.survey.columns import Column, TableKind, table_kinds, unit_of

CHUNK_ROWS = 20_000
MOST_FAULTS = 200
"""So many faults are listed of one file; a wrong unit would repeat itself a hundred thousand times.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A record and the place where it stands."""

    record: Record
    file: str
    line: int

    def where(self, label: str, *, column: str | None = None) -> Where:
        """Return the place of the record, for a refusal."""
        return Where(file=self.file, line=self.line, column=column, record=label)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRead:
    """What one file held: rows, or the faults for which all of it is refused."""

    kind: TableKind
    rows: tuple[Row, ...]
    faults: tuple[RefusedInput, ...] = ()


def read_table(path: Path | str, *, kind: str | None = None) -> TableRead:
    """Read a table of records from CSV, XLSX or Parquet.

    Parameters
    ----------
    path : Path or str
        The file. Lines of text count from 1 with the header, rows of Parquet from 1 without.
    kind : str or None
        Which table it is; ``None`` goes by its name and columns.

    Raises
    ------
    FileRefused
        The file cannot be read at all.
    SurveyRefused
        ``unknown-table`` where its columns are those of no table.
    """
    path = Path(path)
    table = open_table(path, FileForm())
    found = table_kinds()[kind] if kind else _recognised(path, table)
    plan, faults = _plan(table.first_row, found)
    if faults:
        return TableRead(kind=found, rows=(), faults=_at_header(faults, path, table))
    rows: list[Row] = []
    for result in _results(table, found, plan):
        if isinstance(result, Row):
            rows.append(result)
        else:
            faults.append(result.at(file=str(path)))
            if len(faults) >= MOST_FAULTS:
                break
    return TableRead(kind=found, rows=() if faults else tuple(rows), faults=tuple(faults))


def kind_of_columns(names: Sequence[str], *, stem: str = "") -> TableKind | None:
    """Return the kind of table that columns and file name say, ``None`` where they say none.

    The name alone is enough, so that a wrong column is refused as such; without a known name all
    columns must be those of one table.
    """
    if stem.lower() in table_kinds():
        return table_kinds()[stem.lower()]
    wanted = {_tidy(name) for name in names if name.strip()}
    fitting = [
        kind
        for kind in table_kinds().values()
        if (filled := _filled(wanted, kind)) is not None and kind.required <= filled
    ]
    return fitting[0] if len(fitting) == 1 else None


def record_label(kind: TableKind, record: Record) -> str:
    """Return the words by which a person finds a record."""
    return " ".join(str(getattr(record, field)) for field in kind.key)


_Plan = tuple[tuple[int, Column, str], ...]


def _tidy(name: str) -> str:
    return name.strip().lower()


def _filled(names: set[str], kind: TableKind) -> set[str] | None:
    columns = [kind.column_of(name) for name in names]
    return None if None in columns else {column.name for column in columns if column is not None}


def _recognised(path: Path, table: Table) -> TableKind:
    kind = kind_of_columns(table.first_row, stem=path.stem)
    if kind is not None:
        return kind
    raise SurveyRefused(
        "unknown-table",
        f"the columns {', '.join(table.first_row[:12])}, which are those of no table",
        allowed=f"a table of {', '.join(table_kinds())}, or outlines with y and z",
        todo="name the file after its table, so that the wrong column is named; see docs/survey.md",
        where=Where(file=str(path)),
    )


def _plan(header: Sequence[str], kind: TableKind) -> tuple[_Plan, list[RefusedInput]]:
    plan: list[tuple[int, Column, str]] = []
    faults: list[RefusedInput] = []
    for at, name in enumerate(header):
        column = kind.column_of(_tidy(name))
        if column is None:
            faults.append(_unknown_column(name, kind))
        elif any(column is other for _, other, _ in plan):
            faults.append(_twice(name, column))
        else:
            plan.append((at, column, _tidy(name)))
    known = {column.name for _, column, _ in plan}
    faults.extend(
        _missing_column(kind.columns[name])
        for name in kind.columns
        if name in kind.required - known
    )
    return tuple(plan), faults


def _at_header(
    faults: Sequence[RefusedInput], path: Path, table: Table
) -> tuple[RefusedInput, ...]:
    first = table.sample[0][0] - 1 if table.sample else 1
    line = max(first, 1)
    return tuple(fault.at(file=str(path), line=line) for fault in faults)


def _results(table: Table, kind: TableKind, plan: _Plan) -> Iterator[Row | RefusedInput]:
    columns = tuple(at for at, _, _ in plan)
    for chunk in table.chunks(rows=CHUNK_ROWS):
        short = _short_lines(chunk)
        for line, cells in zip(chunk.lines.tolist(), chunk.texts(columns).rows(), strict=True):
            if line in short:
                yield _too_few(line)
                continue
            yield from _row(cells, kind, plan=plan, file=str(table.path), line=line)


def _row(
    cells: tuple[str | None, ...], kind: TableKind, *, plan: _Plan, file: str, line: int
) -> Iterator[Row | RefusedInput]:
    """Yield the row, or each of its faults; a wholly blank row is no row."""
    texts = [(cell or "").strip() for cell in cells]
    if not any(texts):
        return
    label = " ".join(
        text for text, (_, column, _) in zip(texts, plan, strict=True) if column.name in kind.key
    )
    values: dict[str, object] = {}
    faults: list[RefusedInput] = []
    for text, (_, column, spelled) in zip(texts, plan, strict=True):
        try:
            if text:
                values[column.name] = value_of(text, column, spelled=spelled)
            elif column.required:
                raise _blank(column)
        except SurveyRefused as fault:
            faults.append(fault.at(line=line, column=spelled, record=label))
    if kind.name == "route" and values.get("kind") == "curve" and "cant_mm" not in values:
        faults.append(_no_cant().at(line=line, record=label))
    if faults:
        yield from faults
    else:
        yield Row(record=kind.record(**values), file=file, line=line)


def _short_lines(chunk: Chunk) -> set[int]:
    """Return the lines of a text that have fewer cells than the header; they may be torn."""
    if not isinstance(chunk, TextChunk):
        return set()
    rows = csv.reader(chunk.content.decode().splitlines(), delimiter=chunk.separator)
    return {
        line
        for line, row in zip(chunk.lines.tolist(), rows, strict=True)
        if len(row) < chunk.columns
    }


def _too_few(line: int) -> SurveyRefused:
    return SurveyRefused(
        "too-few-cells",
        "fewer cells than columns",
        allowed="one cell, blank if need be, for each column",
        todo="complete the line; a torn file must be exported again",
        where=Where(line=line),
    )


def _blank(column: Column) -> SurveyRefused:
    return SurveyRefused(
        "blank-cell",
        f"no {column.name}",
        allowed=f"a value in each row: {column.text}",
        todo="fill the cell",
    )


def _no_cant() -> SurveyRefused:
    return SurveyRefused(
        "curve-without-cant",
        "a curve without cant",
        allowed="the cant of each curve, 0 where there is none",
        todo="fill cant_mm (or cant_in)",
        where=Where(column="cant_mm"),
    )


def _unknown_column(name: str, kind: TableKind) -> SurveyRefused:
    known = [spelling for column in kind.columns.values() for spelling in column.spellings]
    without_unit = [
        field
        for field in kind.columns
        if (unit := unit_of(field)) and _tidy(name) == field.replace(f"_{unit}", "")
    ]
    near = get_close_matches(_tidy(name), known, n=1, cutoff=0.6)
    if without_unit:
        field = without_unit[0]
        return SurveyRefused(
            "column-without-unit",
            f"the column {name!r}, whose name says no unit",
            allowed=" or ".join(kind.columns[field].spellings),
            todo="write the unit into the column's name",
            where=Where(column=name),
        )
    return SurveyRefused(
        "unknown-column",
        f"the column {name!r}" if name else "a column without a name",
        allowed=f"the columns of {kind.name}: {', '.join(kind.columns)}",
        todo=f"did you mean {near[0]}?" if near else "correct or remove the column",
        where=Where(column=name or None),
    )


def _twice(name: str, column: Column) -> SurveyRefused:
    return SurveyRefused(
        "column-twice",
        f"a second column for {column.name}",
        allowed="each column once, in one unit",
        todo="remove one of the two",
        where=Where(column=name),
    )


def _missing_column(column: Column) -> SurveyRefused:
    return SurveyRefused(
        "missing-column",
        f"no column {column.name}",
        allowed=" or ".join(column.spellings),
        todo=f"add it: {column.text}",
        where=Where(column=column.name),
    )
