"""Outlines into the store and out of it: points as float64 blobs, each measurement once.

An outline has a *place* (kind, asset, side, and time or, without one, campaign) and a *content*
(a hash of its points and of how they are to be taken). The same content at the same place is the
same measurement. Another content at the same place takes its place, and both are kept. A file that
is read anew by a corrected recipe supersedes all that its earlier reading gave, except what stayed
the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import msgspec
import numpy as np
from sqlalchemy import Connection, Row, func, insert, select, update

from tapertread.errors import OutlineRefused, Where
from tapertread.shapes.outline import Floats, Frame, Origin, Outline
from tapertread.shapes.raw_outline import RawOutline
from tapertread.survey import schema
from tapertread.survey.record_filing import Filed, batches

FrameOf = Callable[[str, str], Frame]
"""Section and campaign → the frame that the section states there."""

BATCH_OUTLINES = 500
STORED = np.dtype("<f8")
SECTION_SAYS = ""
"""Frame of rail outlines whose recipe does not state one: the one that their section states."""


def place_of(raw: RawOutline) -> str:
    """Return what makes two outlines measurements of the same thing at the same moment."""
    return "|".join((raw.kind, raw.asset, str(raw.side), raw.time or f"({raw.campaign})"))


def content_of(raw: RawOutline, yz: bytes, *, frame: str) -> bytes:
    """Return the hash of an outline: its points, and how they are to be taken."""
    facts = (
        frame,
        raw.outline.tape_line_mm,
        raw.stylus_radius_mm,
        raw.repeatability_mm,
        raw.device,
    )
    return hashlib.sha256(msgspec.json.encode(facts) + yz).digest()


def points_as_bytes(outline: Outline) -> bytes:
    """Return all y, then all z (mm) as float64, little end first."""
    return np.concatenate((outline.y_mm, outline.z_mm)).astype(STORED, copy=False).tobytes()


def points_from_bytes(yz: bytes) -> tuple[Floats, Floats]:
    """Return y and z (mm) from their bytes."""
    points = np.frombuffer(yz, dtype=STORED).astype(np.float64, copy=False)
    half = points.size // 2
    return points[:half], points[half:]


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
        self._retire_earlier_reading(sha256)

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
            "import_id": self._number,
        }
        return entry, yz

    def done(self) -> Filed:
        """Return what was filed in all."""
        table = schema.outline
        superseded = self._connection.scalar(
            select(func.count()).where(table.c.superseded_by == self._number)
        )
        return Filed(
            added=self._added,
            already_there=self._already_there,
            superseded=int(superseded or 0),
        )

    def _retire_earlier_reading(self, sha256: str) -> None:
        earlier = select(schema.imports.c.id).where(
            schema.imports.c.sha256 == sha256, schema.imports.c.id != self._number
        )
        self._connection.execute(
            update(schema.outline)
            .where(schema.holding(schema.outline), schema.outline.c.import_id.in_(earlier))
            .values(superseded_by=self._number)
        )

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
        first = int(self._connection.scalar(select(func.max(schema.outline.c.id))) or 0) + 1
        for id_, (entry, _) in enumerate(fresh, start=first):
            entry["id"] = id_
        self._connection.execute(insert(schema.outline), [entry for entry, _ in fresh])
        self._connection.execute(
            insert(schema.outline_points),
            [{"outline_id": entry["id"], "yz": yz} for entry, yz in fresh],
        )
        self._added += len(fresh)


def raw_outlines(rows: Iterable[Any], *, frames: FrameOf) -> Iterator[RawOutline]:
    """Yield the outlines of rows that carry the columns of `OUTLINE_COLUMNS`.

    Parameters
    ----------
    rows : iterable
        Rows of the store.
    frames : callable
        Tells the frame that a section states in a campaign.
    """
    for row in rows:
        y, z = points_from_bytes(row.yz)
        name = " ".join(part for part in (row.asset, row.side, row.campaign, row.time) if part)
        yield RawOutline(
            outline=Outline(
                kind=row.kind,
                y_mm=y,
                z_mm=z,
                origin=Origin(name=name),
                frame=row.frame or frames(row.asset, row.campaign),
                tape_line_mm=row.tape_line_mm,
            ),
            asset=row.asset,
            side=row.side,
            campaign=row.campaign,
            time=row.time,
            stylus_radius_mm=row.stylus_radius_mm,
            device=row.device,
            repeatability_mm=row.repeatability_mm,
            file=row.file,
            first_line=row.first_line,
            last_line=row.last_line,
            recipe_name=row.recipe_name,
        )


OUTLINE_COLUMNS = (
    *(column for column in schema.outline.c if column.name not in ("place", "content")),
    schema.imports.c.file,
    schema.outline_points.c.yz,
)
"""What `raw_outlines` needs."""


def _twice(raw: RawOutline) -> OutlineRefused:
    return OutlineRefused(
        "outline-twice",
        "a second, different outline of the same asset, side and moment",
        allowed="one outline of each; several in one campaign need a column with their time",
        todo="give the time of each, or remove one of the two",
        where=Where(file=raw.file, line=raw.first_line, record=raw.record),
    )
