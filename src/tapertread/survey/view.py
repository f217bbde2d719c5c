"""A survey as it is read: frozen at the last import when it was opened, never changed by reading.

Nothing that the store holds is ever overwritten, so that a view stays the same while others import,
without holding the store open; an earlier state can be opened in the same way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, cast

from sqlalchemy import Connection, Select, select

from tapertread.railway import (
    Campaign,
    ContactBand,
    FrictionReading,
    Inspection,
    KilometreJump,
    Lubricator,
    Record,
    Route,
    RoutePiece,
    Section,
    Service,
    Treatment,
    Vehicle,
    Wheelset,
)
from tapertread.railway.route import Track
from tapertread.shapes.outline import Kind, Side
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.survey import schema
from tapertread.survey.book import TABLE_OF, Book
from tapertread.survey.config import SurveyConfig, read_config
from tapertread.survey.filing import raw_bytes
from tapertread.survey.history import (
    Event,
    StoredFile,
    StoredRefusal,
    history_of,
    stored_files,
    stored_refusals,
)
from tapertread.survey.outline_rows import OUTLINE_COLUMNS, FrameOf, raw_outlines
from tapertread.survey.places import routes_of
from tapertread.survey.record_filing import batches, load_book
from tapertread.survey.store import reading

R = TypeVar("R", bound=Record)
M = TypeVar("M", Wheelset, Section)

OutlineKey = tuple[str, Side]
"""Asset and side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """A survey, read-only.

    Attributes
    ----------
    folder : Path
        Where it is.
    config : SurveyConfig
        What ``survey.toml`` says.
    as_of : int
        Number of the last import that the view knows.
    book : Book
        Every record that held then, with the file and line it came from.
    routes : mapping of (str, str) to Route
        Route of each line and track.
    """

    folder: Path
    config: SurveyConfig
    as_of: int
    book: Book
    routes: Mapping[Track, Route]

    @property
    def name(self) -> str:
        """Name of the survey."""
        return self.config.name

    @property
    def campaigns(self) -> list[Campaign]:
        """Rounds of measuring, in order of their dates."""
        return sorted(self._all(Campaign), key=lambda one: (one.date, one.campaign))

    @property
    def vehicles(self) -> list[Vehicle]:
        """The fleets."""
        return self._all(Vehicle)

    @property
    def services(self) -> list[Service]:
        """Where the fleets run."""
        return self._all(Service)

    @property
    def route_pieces(self) -> list[RoutePiece]:
        """Pieces of every track, as the tables give them; `routes` has them chained."""
        return self._all(RoutePiece)

    @property
    def kilometre_jumps(self) -> list[KilometreJump]:
        """The equation table."""
        return self._all(KilometreJump)

    @property
    def treatments(self) -> list[Treatment]:
        """Turning and grinding done, in order of their dates."""
        return sorted(self._all(Treatment), key=lambda one: (one.date, one.asset))

    @property
    def lubricators(self) -> list[Lubricator]:
        """Lubricators beside the track."""
        return self._all(Lubricator)

    def wheelsets(self, campaign: str | None = None) -> list[Wheelset]:
        """Return the wheelsets of a campaign; without one, each as last measured."""
        return self._measured(Wheelset, campaign)

    def sections(self, campaign: str | None = None) -> list[Section]:
        """Return the sections of a campaign; without one, each as last measured."""
        return self._measured(Section, campaign)

    def inspections(self, campaign: str | None = None) -> list[Inspection]:
        """Return the findings of inspection of a campaign, or all."""
        return self._of_campaign(Inspection, campaign)

    def bands(self, campaign: str | None = None) -> list[ContactBand]:
        """Return the contact bands seen in a campaign, or all."""
        return self._of_campaign(ContactBand, campaign)

    def friction_readings(self, campaign: str | None = None) -> list[FrictionReading]:
        """Return the friction readings of a campaign, or all."""
        return self._of_campaign(FrictionReading, campaign)

    def route_of(self, section: Section | Lubricator) -> Route | None:
        """Return the route that a section or lubricator lies on, where the survey has one."""
        return self.routes.get((section.line, section.track))

    def piece_of(self, section: Section | Lubricator) -> RoutePiece | None:
        """Return the piece of route on which a section or lubricator lies."""
        route = self.route_of(section)
        if route is None:
            return None
        return route.piece_at(section.km, stretch=section.stretch)

    def wheel_outlines(self, campaign: str | None = None) -> dict[OutlineKey, RawOutline]:
        """Return the wheel outlines by wheelset and side.

        Parameters
        ----------
        campaign : str or None
            Which round of measuring; without one, for each wheelset the last that has outlines of
            it. Of several at different times in one campaign, the last.
        """
        return {_key(raw): raw for raw in self.iter_outlines("wheel", campaign)}

    def rail_outlines(self, campaign: str | None = None) -> dict[OutlineKey, RawOutline]:
        """Return the rail outlines by section and side; as `wheel_outlines`."""
        return {_key(raw): raw for raw in self.iter_outlines("rail", campaign)}

    def iter_outlines(self, kind: Kind, campaign: str | None = None) -> Iterator[RawOutline]:
        """Yield the same outlines one after another, so that memory stays bounded.

        The store is not held open between batches, so that importers need not wait for the caller.
        """
        with reading(self.folder) as connection:
            chosen = self._chosen(connection, kind, campaign)
        yield from self._load(chosen)

    def repeats(self, kind: Kind, campaign: str) -> Iterator[RawOutline]:
        """Yield every outline of a campaign, also those measured several times, by asset and time.

        Measuring trains give many of one section; these are all of them.
        """
        table = schema.outline
        query = (
            select(table.c.id)
            .where(
                table.c.kind == kind,
                table.c.campaign == campaign,
                schema.holding(table, self.as_of),
            )
            .order_by(table.c.asset, table.c.side, table.c.time)
        )
        with reading(self.folder) as connection:
            chosen = connection.scalars(query).all()
        yield from self._load(chosen)

    def _load(self, ids: Sequence[int]) -> Iterator[RawOutline]:
        """Yield outlines by their ids, in the order given."""
        frames = self._frames()
        for batch in batches(ids):
            query = _outline_query().where(schema.outline.c.id.in_(batch))
            with reading(self.folder) as connection:
                found = {row.id: row for row in connection.execute(query)}
            yield from raw_outlines((found[id_] for id_ in batch), frames=frames)

    def history(self, asset: str) -> list[Event]:
        """Return all that is known of an asset (wheelset, section, vehicle …), oldest first.

        What was superseded is among it, marked so.
        """
        with reading(self.folder) as connection:
            return history_of(connection, asset, as_of=self.as_of)

    def files(self) -> list[StoredFile]:
        """Return every import that the view knows, in order."""
        with reading(self.folder) as connection:
            return stored_files(connection, as_of=self.as_of)

    def refusals(self) -> list[StoredRefusal]:
        """Return everything that was ever refused, in order."""
        with reading(self.folder) as connection:
            return stored_refusals(connection)

    def raw_bytes(self, sha256: str) -> bytes:
        """Return the bytes of a file as it was brought in, by its checksum.

        Raises
        ------
        KeyError
            If no such file was.
        """
        with reading(self.folder) as connection:
            return raw_bytes(connection, sha256)

    def _chosen(self, connection: Connection, kind: Kind, campaign: str | None) -> list[int]:
        """Return the ids of one outline for each asset and side."""
        table = schema.outline
        query = select(
            table.c.id, table.c.asset, table.c.side, table.c.campaign, table.c.time
        ).where(table.c.kind == kind, schema.holding(table, self.as_of))
        if campaign is not None:
            query = query.where(table.c.campaign == campaign)
        rank = {one.campaign: at for at, one in enumerate(self.campaigns)}
        best: dict[str, int] = {}
        chosen: dict[tuple[str, str, int], tuple[str, int]] = {}
        for id_, asset, side, of, time in connection.execute(query):
            at = rank[of]
            best[asset] = max(best.get(asset, at), at)
            key = (asset, side, at)
            chosen[key] = max(chosen.get(key, ("", 0)), (time, id_))
        return sorted(id_ for (asset, _, at), (_, id_) in chosen.items() if at == best[asset])

    def _frames(self) -> FrameOf:
        """Return what tells the frame of a section in a campaign, or else as last stated."""
        last = {one.section: one.frame for one in self.sections()}
        stated = {(one.section, one.campaign): one.frame for one in self._all(Section)}
        return lambda section, campaign: stated.get((section, campaign), last[section])

    def _all(self, record: type[R]) -> list[R]:
        return [one for _, one in self.book.pairs(record)]

    def _of_campaign(self, record: type[R], campaign: str | None) -> list[R]:
        return [
            one
            for one in self._all(record)
            if campaign is None or getattr(one, "campaign") == campaign  # noqa: B009
        ]

    def _measured(self, record: type[M], campaign: str | None) -> list[M]:
        if campaign is not None:
            return self._of_campaign(record, campaign)
        rank = {one.campaign: at for at, one in enumerate(self.campaigns)}
        name = TABLE_OF[record].removesuffix("s")
        last: dict[str, M] = {}
        for one in sorted(self._all(record), key=lambda one: rank[one.campaign]):
            last[getattr(one, name)] = one
        return sorted(last.values(), key=lambda one: str(getattr(one, name)))


def open_survey(path: Path | str, *, as_of: int | None = None) -> Survey:
    """Open a survey for reading.

    Parameters
    ----------
    path : Path or str
        A folder with ``survey.toml`` and a store.
    as_of : int or None
        Number of an import: the survey as it was right after it; ``None`` for the last.

    Raises
    ------
    FileRefused, SurveyRefused
        The folder is no survey, has no store yet, or the store cannot be used.
    """
    folder = Path(path)
    config = read_config(folder)
    with reading(folder) as connection:
        number = schema.last_import(connection) if as_of is None else as_of
        book = load_book(connection, as_of=number)
    routes, faults = routes_of(book)
    if faults:
        raise faults[0]
    return Survey(folder=folder, config=config, as_of=number, book=book, routes=routes)


def _key(raw: RawOutline) -> OutlineKey:
    return raw.asset, cast("Side", raw.side)


def _outline_query() -> Select[Any]:
    table, points, source = schema.outline, schema.outline_points, schema.imports
    return (
        select(*OUTLINE_COLUMNS)
        .join(points, points.c.outline_id == table.c.id)
        .join(source, source.c.id == table.c.source_id)
    )


__all__ = ["OutlineKey", "Survey", "open_survey"]
