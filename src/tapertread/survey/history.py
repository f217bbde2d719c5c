"""What the store knows of one asset since ever, what was superseded included; and of its files."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, select

from tapertread.railway import Campaign, Record
from tapertread.survey import schema
from tapertread.survey.record_filing import record_of

ASSET_FIELDS = {
    "vehicles": "vehicle",
    "wheelsets": "wheelset",
    "sections": "section",
    "inspections": "asset",
    "treatments": "asset",
    "lubricators": "lubricator",
    "bands": "section",
    "friction": "section",
}
"""Table → the column that names what a row is about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing known of an asset.

    Attributes
    ----------
    date : str
        Date of its campaign, time of measuring, or its own date; empty where none is known.
    campaign : str
        Round of measuring, where it belongs to one.
    what : str
        Table it is a row of, or ``outline``.
    record : Record or None
        The row; ``None`` for an outline.
    side : str
        Side of an outline.
    points : int
        Points of an outline.
    outline_id : int or None
        Number of an outline in the store.
    file, line
        Where it was brought in from.
    revision : int
        1 for the first of its key, counting up.
    import_id : int
        Import that brought it in.
    superseded_by : int or None
        Import that took its place; ``None`` where it holds.
    """

    date: str
    campaign: str
    what: str
    record: Record | None = None
    side: Literal["left", "right", ""] = ""
    points: int = 0
    outline_id: int | None = None
    file: str
    line: int
    revision: int
    import_id: int
    superseded_by: int | None

    @property
    def holds(self) -> bool:
        """Whether nothing took its place."""
        return self.superseded_by is None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFile:
    """One import: which file, read as what, and what came of it."""

    import_id: int
    file: str
    sha256: str
    kind: str
    recipe: str
    size_bytes: int
    added: int
    already_there: int
    superseded: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRefusal:
    """One refusal of the past."""

    file: str
    sha256: str
    code: str
    line: int | None
    column: str | None
    record: str | None
    why: str


def history_of(connection: Connection, asset: str, *, as_of: int) -> list[Event]:
    """Return all that is known of an asset up to an import, oldest first."""
    dates = _campaign_dates(connection)
    events = [*_record_events(connection, asset, as_of=as_of, dates=dates)]
    events += _outline_events(connection, asset, as_of=as_of, dates=dates)
    return sorted(events, key=lambda one: (one.date, one.what, one.side, one.revision))


def stored_files(connection: Connection, *, as_of: int) -> list[StoredFile]:
    """Return every import up to a number, in order."""
    table, raw = schema.imports, schema.raw
    rows = connection.execute(
        select(table, raw.c.size_bytes)
        .join(raw, raw.c.sha256 == table.c.sha256)
        .where(table.c.id <= as_of)
        .order_by(table.c.id)
    )
    return [
        StoredFile(
            import_id=row.id,
            file=row.file,
            sha256=row.sha256,
            kind=row.kind,
            recipe=row.recipe,
            size_bytes=row.size_bytes,
            added=row.added,
            already_there=row.already_there,
            superseded=row.superseded,
        )
        for row in rows
    ]


def stored_refusals(connection: Connection) -> list[StoredRefusal]:
    """Return every refusal ever, in order."""
    table = schema.refused
    return [
        StoredRefusal(
            file=row.file,
            sha256=row.sha256,
            code=row.code,
            line=row.line,
            column=row.column,
            record=row.record,
            why=row.why,
        )
        for row in connection.execute(select(table).order_by(table.c.id))
    ]


def _campaign_dates(connection: Connection) -> dict[str, str]:
    table = schema.record
    query = select(table.c.payload).where(
        table.c.kind == "campaigns", table.c.superseded_by.is_(None)
    )
    found = (record_of("campaigns", payload) for payload in connection.scalars(query))
    return {one.campaign: one.date for one in found if isinstance(one, Campaign)}


def _record_events(
    connection: Connection, asset: str, *, as_of: int, dates: Mapping[str, str]
) -> Iterator[Event]:
    table, source = schema.record, schema.imports
    query = (
        select(table, source.c.file)
        .join(source, source.c.id == table.c.import_id)
        .where(table.c.kind.in_(ASSET_FIELDS), table.c.import_id <= as_of)
    )
    for row in connection.execute(query):
        values = json.loads(row.payload)
        if values[ASSET_FIELDS[row.kind]] != asset:
            continue
        campaign = values.get("campaign", "")
        yield Event(
            date=values.get("date") or dates.get(campaign, ""),
            campaign=campaign,
            what=row.kind,
            record=record_of(row.kind, row.payload),
            file=row.file,
            line=row.line,
            revision=row.revision,
            import_id=row.import_id,
            superseded_by=_known(row.superseded_by, as_of),
        )


def _outline_events(
    connection: Connection, asset: str, *, as_of: int, dates: Mapping[str, str]
) -> Iterator[Event]:
    table, source = schema.outline, schema.imports
    query = (
        select(table, source.c.file)
        .join(source, source.c.id == table.c.source_id)
        .where(table.c.asset == asset, table.c.import_id <= as_of)
    )
    for row in connection.execute(query):
        yield Event(
            date=row.time or dates.get(row.campaign, ""),
            campaign=row.campaign,
            what="outline",
            side=row.side,
            points=row.points,
            outline_id=row.id,
            file=row.file,
            line=row.first_line,
            revision=row.revision,
            import_id=row.import_id,
            superseded_by=_known(row.superseded_by, as_of),
        )


def _known(superseded_by: int | None, as_of: int) -> int | None:
    """Return what took a row's place, as far as it was known by then."""
    return None if superseded_by is not None and superseded_by > as_of else superseded_by
