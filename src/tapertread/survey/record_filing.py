"""Records into the store and out of it; a changed record takes the place of the one before."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import msgspec
from sqlalchemy import Connection, func, insert, select, update

from tapertread.railway.records import Record
from tapertread.survey import schema
from tapertread.survey.book import Book
from tapertread.survey.columns import RECORDS, TableKind
from tapertread.survey.tables import Row

T = TypeVar("T")

MOST_VALUES = 500
"""Values in one condition; databases bound them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filed:
    """How many rows an import added, knew before, and took the place of."""

    added: int = 0
    already_there: int = 0
    superseded: int = 0


def payload_of(record: Record) -> str:
    """Return a record as JSON; an endless radius is the word ``inf``."""
    spelled = {
        name: str(value) if isinstance(value, float) and math.isinf(value) else value
        for name, value in msgspec.structs.asdict(record).items()
    }
    return msgspec.json.encode(spelled).decode()


def record_of(kind: str, payload: str) -> Record:
    """Return the record that a payload holds."""
    return msgspec.json.decode(payload, type=RECORDS[kind], strict=False)


def load_book(connection: Connection, *, as_of: int | None = None) -> Book:
    """Return all records that hold, now or right after the import of a number."""
    table, source = schema.record, schema.imports
    found = connection.execute(
        select(table.c.kind, table.c.payload, table.c.line, source.c.file)
        .join(source, source.c.id == table.c.import_id)
        .where(schema.holding(table, as_of))
        .order_by(table.c.kind, table.c.import_id, table.c.id)
    )
    rows: dict[str, list[Row]] = defaultdict(list)
    for kind, payload, line, file in found:
        rows[kind].append(Row(record=record_of(kind, payload), file=file, line=line))
    return Book(rows=rows)


def merged(book: Book, kind: TableKind, new: Sequence[Row]) -> Book:
    """Return the book as it would be with new rows of one table."""
    name_of = kind.part_of if kind.part else kind.key_of
    named = {name_of(row.record) for row in new}
    kept = [row for row in book.of(kind.name) if name_of(row.record) not in named]
    return Book(rows={**book.rows, kind.name: [*kept, *new]})


def file_records(
    connection: Connection, kind: TableKind, rows: Sequence[Row], *, number: int
) -> Filed:
    """File the rows of one table under an import.

    Of tables replaced by parts (the route of a track), a part in which anything changed is filed
    whole, in its order; rows that no longer belong to it are superseded.
    """
    standing = _standing(connection, kind)
    if not kind.part:
        return _file_rows(connection, kind, rows, standing=standing, number=number)
    parts: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        parts[kind.part_of(row.record)].append(row)
    filed = [
        _file_part(connection, kind, members, part=part, standing=standing, number=number)
        for part, members in parts.items()
    ]
    return Filed(
        added=sum(one.added for one in filed),
        already_there=sum(one.already_there for one in filed),
        superseded=sum(one.superseded for one in filed),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Standing:
    """What the store holds of one kind: current rows by key, and the last revision of each key."""

    current: dict[str, tuple[int, str, str]]
    revisions: dict[str, int]


def _standing(connection: Connection, kind: TableKind) -> _Standing:
    table = schema.record
    held = connection.execute(
        select(table.c.key, table.c.id, table.c.part, table.c.payload)
        .where(table.c.kind == kind.name, schema.holding(table))
        .order_by(table.c.id)
    )
    last = connection.execute(
        select(table.c.key, func.max(table.c.revision))
        .where(table.c.kind == kind.name)
        .group_by(table.c.key)
    )
    return _Standing(
        current={key: (id_, part, payload) for key, id_, part, payload in held},
        revisions={key: int(revision) for key, revision in last},
    )


def _file_rows(
    connection: Connection,
    kind: TableKind,
    rows: Sequence[Row],
    *,
    standing: _Standing,
    number: int,
) -> Filed:
    changed, gone = [], []
    for row in rows:
        before = standing.current.get(kind.key_of(row.record))
        if before is not None and before[2] == payload_of(row.record):
            continue
        changed.append(row)
        if before is not None:
            gone.append(before[0])
    _supersede(connection, gone, number=number)
    _insert(connection, kind, changed, standing=standing, number=number)
    return Filed(added=len(changed), already_there=len(rows) - len(changed), superseded=len(gone))


def _file_part(
    connection: Connection,
    kind: TableKind,
    rows: Sequence[Row],
    *,
    part: str,
    standing: _Standing,
    number: int,
) -> Filed:
    held = [(id_, payload) for id_, name, payload in standing.current.values() if name == part]
    if [payload for _, payload in held] == [payload_of(row.record) for row in rows]:
        return Filed(already_there=len(rows))
    _supersede(connection, [id_ for id_, _ in held], number=number)
    _insert(connection, kind, rows, standing=standing, number=number)
    return Filed(added=len(rows), superseded=len(held))


def _supersede(connection: Connection, ids: Sequence[int], *, number: int) -> None:
    for batch in batches(ids):
        connection.execute(
            update(schema.record).where(schema.record.c.id.in_(batch)).values(superseded_by=number)
        )


def _insert(
    connection: Connection,
    kind: TableKind,
    rows: Sequence[Row],
    *,
    standing: _Standing,
    number: int,
) -> None:
    if not rows:
        return
    entries = []
    for row in rows:
        key = kind.key_of(row.record)
        entries.append(
            {
                "kind": kind.name,
                "key": key,
                "part": kind.part_of(row.record),
                "payload": payload_of(row.record),
                "revision": standing.revisions.get(key, 0) + 1,
                "line": row.line,
                "import_id": number,
            }
        )
    connection.execute(insert(schema.record), entries)


def batches(values: Sequence[T], size: int = MOST_VALUES) -> Iterable[Sequence[T]]:
    """Yield values in groups that fit into one condition."""
    return (values[begin : begin + size] for begin in range(0, len(values), size))
