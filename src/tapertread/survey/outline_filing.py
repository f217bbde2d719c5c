"""Outlines into the store: points as float64 blobs, each measurement once.

An outline has a *place* (kind, asset, side, and time or, without one, campaign) and a *content*
(a hash of its points and of how they are to be taken). The same content at the same place is the
same measurement. Another content at the same place takes its place, and both are kept. A file that
is read anew by a corrected recipe supersedes all that its earlier reading gave, except what stayed
the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from tapertread.errors import OutlineRefused, Where
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.survey import schema
from tapertread.survey.outline_rows import (
    SECTION_SAYS,
    content_of,
    place_of,
    points_as_bytes,
)
from tapertread.survey.record_filing import Filed, batches

BATCH_OUTLINES = 500


class OutlineFiling:
    """Files the outlines of one import, batch by batch, within the caller's transaction.

    Parameters
    ----------
    connection : Connection
        In a transaction.
    number : int
        Number of the import.
    sha256 : str
        Checksum of the file: what an earlier reading of it gave is superseded first.
    frame_stated : bool
        Whether the recipe says in which frame rails were measured; else their section does.
    """

    def __init__(
        self, connection: Connection, *, number: int, sha256: str, frame_stated: bool
    ) -> None:
        self._connection = connection
        self._number = number
        self._frame_stated = frame_stated
        self._added = self._already_there = 0
        self._met: dict[str, bytes] = {}
        self._earlier = self._retire_earlier_reading(sha256)

    def add(self, outlines: Sequence[RawOutline]) -> list[OutlineRefused]:
        """File some outlines; return a refusal for each that contradicts another of this file."""
        prepared = [self._prepared(raw) for raw in outlines]
        standing = self._standing({entry["place"] for entry, _ in prepared})
        faults: list[OutlineRefused] = []
        fresh: list[tuple[dict[str, Any], bytes]] = []
        for raw, (entry, yz) in zip(outlines, prepared, strict=True):
            place, content = entry["place"], entry["content"]
            last, current = standing.get(place, (0, None))
            met = self._met.get(place)
            self._met.setdefault(place, content)
            if met is not None and met != content:
                faults.append(_twice(raw))
            elif met is not None or self._is_there(entry, current):
                self._already_there += 1
            else:
                self._retire(current)
                fresh.append(({**entry, "revision": last + 1}, yz))
        self._insert(fresh)
        return faults

    def _prepared(self, raw: RawOutline) -> tuple[dict[str, Any], bytes]:
        yz = points_as_bytes(raw.outline)
        frame = raw.frame if self._frame_stated or raw.kind == "wheel" else SECTION_SAYS
        entry = {
            "kind": raw.kind,
            "asset": raw.asset,
            "side": raw.side,
            "campaign": raw.campaign,
            "time": raw.time,
            "place": place_of(raw),
            "content": content_of(raw, yz, frame=frame),
            "points": raw.outline.y_mm.size,
            "frame": frame,
            "tape_line_mm": raw.outline.tape_line_mm,
            "stylus_radius_mm": raw.stylus_radius_mm,
            "repeatability_mm": raw.repeatability_mm,
            "device": raw.device,
            "recipe_name": raw.recipe_name,
            "first_line": raw.first_line,
            "last_line": raw.last_line,
            "source_id": self._number,
            "import_id": self._number,
        }
        return entry, yz

    def done(self) -> Filed:
        """Put back what the earlier reading had displaced, and return what was filed in all."""
        self._put_back()
        table = schema.outline
        superseded = self._connection.scalar(
            select(func.count()).where(table.c.superseded_by == self._number)
        )
        return Filed(
            added=self._added,
            already_there=self._already_there,
            superseded=int(superseded or 0),
        )

    def _retire_earlier_reading(self, sha256: str) -> list[int]:
        """Supersede what the same bytes gave before; return the imports that read them."""
        table, source = schema.outline, schema.imports
        earlier = self._connection.scalars(
            select(source.c.id).where(source.c.sha256 == sha256, source.c.id != self._number)
        ).all()
        self._connection.execute(
            update(table)
            .where(schema.holding(table), table.c.source_id.in_(earlier))
            .values(superseded_by=self._number)
        )
        return [int(number) for number in earlier]

    def _put_back(self) -> None:
        """Let outlines hold again that the earlier reading took the place of and this one does not.

        They come back as new revisions, so that every state in between can still be read.
        """
        table = schema.outline
        displaced = self._connection.execute(
            select(table)
            .where(
                table.c.superseded_by.in_(self._earlier),
                table.c.source_id.not_in(self._earlier),
            )
            .order_by(table.c.revision)
        ).all()
        latest = {row.place: row for row in displaced}
        standing = self._standing(set(latest))
        for place, row in latest.items():
            last, current = standing[place]
            if current is None or current.superseded_by is not None:
                self._copy(row, revision=last + 1)

    def _copy(self, row: Any, *, revision: int) -> None:
        points = schema.outline_points
        id_ = self._next_id()
        values = {**row._mapping, "id": id_, "revision": revision}
        values |= {"import_id": self._number, "superseded_by": None}
        self._connection.execute(insert(schema.outline).values(values))
        yz = self._connection.scalar(select(points.c.yz).where(points.c.outline_id == row.id))
        self._connection.execute(insert(points).values(outline_id=id_, yz=yz))

    def _next_id(self) -> int:
        return int(self._connection.scalar(select(func.max(schema.outline.c.id))) or 0) + 1

    def _standing(self, places: set[str]) -> dict[str, tuple[int, Row[Any] | None]]:
        """Return, by place, the last revision and the outline that holds or was just retired."""
        table = schema.outline
        found: dict[str, tuple[int, Row[Any] | None]] = {}
        for batch in batches(sorted(places)):
            rows: Any = self._connection.execute(
                select(
                    table.c.id,
                    table.c.place,
                    table.c.content,
                    table.c.campaign,
                    table.c.revision,
                    table.c.import_id,
                    table.c.superseded_by,
                )
                .where(table.c.place.in_(batch))
                .order_by(table.c.revision)
            ).all()
            for row in rows:
                last, current = found.get(row.place, (0, None))
                holds = row.superseded_by is None or row.superseded_by == self._number
                found[row.place] = (max(last, row.revision), row if holds else current)
        return found

    def _is_there(self, entry: dict[str, Any], current: Row[Any] | None) -> bool:
        """Return whether the same measurement is there, putting it back where just retired."""
        if current is None or current.content != entry["content"]:
            return False
        if current.superseded_by is None:
            return True
        if current.campaign != entry["campaign"]:
            return False
        table = schema.outline
        self._connection.execute(
            update(table).where(table.c.id == current.id).values(superseded_by=None)
        )
        return True

    def _retire(self, current: Row[Any] | None) -> None:
        if current is not None and current.superseded_by is None:
            table = schema.outline
            self._connection.execute(
                update(table).where(table.c.id == current.id).values(superseded_by=self._number)
            )

    def _insert(self, fresh: Sequence[tuple[dict[str, Any], bytes]]) -> None:
        if not fresh:
            return
        for id_, (entry, _) in enumerate(fresh, start=self._next_id()):
            entry["id"] = id_
        self._connection.execute(insert(schema.outline), [entry for entry, _ in fresh])
        self._connection.execute(
            insert(schema.outline_points),
            [{"outline_id": entry["id"], "yz": yz} for entry, yz in fresh],
        )
        self._added += len(fresh)


def _twice(raw: RawOutline) -> OutlineRefused:
    return OutlineRefused(
        "outline-twice",
        "a second, different outline of the same asset, side and moment",
        allowed="one outline of each; several in one campaign need a column with their time",
        todo="give the time of each, or remove one of the two",
        where=Where(file=raw.file, line=raw.first_line, record=raw.record),
    )
