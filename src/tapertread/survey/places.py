"""Whether routes can be chained, and whether what lies beside them lies on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from tapertread.errors import SurveyRefused
from tapertread.railway import (
    KilometreJump,
    Lubricator,
    Route,
    RoutePiece,
    Section,
    Service,
    build_route,
)
from tapertread.railway.chaining import piece_label
from tapertread.railway.kilometres import jump_label
from tapertread.railway.route import Track
from tapertread.survey.book import Book, fault_at, moved_to, unknown
from tapertread.survey.tables import Row

GAUGE_APART_MM = 60.0
"""A gauge further than this from the route's nominal one is another gauge, or a slip (common
practice, no source; the widest limit in use lies about 35 mm above nominal)."""


def routes_of(book: Book) -> tuple[dict[Track, Route], list[SurveyRefused]]:
    """Return every route that can be chained, and the faults of those that cannot.

    Equations of a track without pieces wait for its route; they are no fault.
    """
    pieces: dict[Track, list[tuple[Row, RoutePiece]]] = defaultdict(list)
    for row, piece in book.pairs(RoutePiece):
        pieces[piece.line, piece.track].append((row, piece))
    jumps: dict[Track, list[tuple[Row, KilometreJump]]] = defaultdict(list)
    for row, jump in book.pairs(KilometreJump):
        jumps[jump.line, jump.track].append((row, jump))
    routes: dict[Track, Route] = {}
    faults = []
    for track, members in pieces.items():
        try:
            routes[track] = build_route(
                [piece for _, piece in members], jumps=[jump for _, jump in jumps[track]]
            )
        except SurveyRefused as fault:
            faults.append(_at_row(fault, members, jumps=jumps[track]))
    return routes, faults


def check_routes(book: Book) -> Iterator[SurveyRefused]:
    """Yield the faults of routes, and of what is not on the route where it should be.

    A survey without any route is none; then nothing is asked of places.
    """
    if not book.of("route"):
        return
    routes, faults = routes_of(book)
    yield from faults
    spoiled = {(p.line, p.track) for _, p in book.pairs(RoutePiece)} - routes.keys()
    placed: list[tuple[Row, Section | Lubricator]] = [
        *book.pairs(Section),
        *book.pairs(Lubricator),
    ]
    for row, found in placed:
        if (found.line, found.track) not in spoiled:
            yield from _place_faults(row, found, routes=routes)
    lines = book.values("route", "line")
    for row, service in book.pairs(Service):
        if service.line not in lines:
            yield unknown(row, "line", target="route")


def _at_row(
    fault: SurveyRefused,
    pieces: Sequence[tuple[Row, RoutePiece]],
    *,
    jumps: Sequence[tuple[Row, KilometreJump]],
) -> SurveyRefused:
    """Return the fault with file and line of the row that it names."""
    labelled = [(row, piece_label(piece)) for row, piece in pieces]
    labelled += [(row, jump_label(jump)) for row, jump in jumps]
    for row, label in reversed(labelled):
        if label == fault.where.record:
            return fault.at(file=row.file, line=row.line)
    return fault


def _place_faults(
    row: Row, found: Section | Lubricator, *, routes: Mapping[Track, Route]
) -> Iterator[SurveyRefused]:
    route = routes.get((found.line, found.track))
    if route is None:
        yield fault_at(
            row,
            "unknown-track",
            found=f"track {found.track} of line {found.line}, of which there is no route",
            allowed=", ".join(f"{line} {track}" for line, track in routes),
            todo="correct line and track, or complete the route",
            column="track",
        )
        return
    try:
        index = int(route.piece_index(route.place_of(found)))
    except SurveyRefused as fault:
        yield moved_to(row, fault, column="km")
        return
    if index < 0:
        yield fault_at(
            row,
            "place-in-gap",
            found=f"km {found.km:.3f}, where the route has a gap",
            allowed="places that a piece of the route describes",
            todo="complete the route, or correct the kilometre",
            column="km",
        )
    elif isinstance(found, Section):
        yield from _gauge_faults(row, found, nominal_mm=route.pieces[index].gauge_mm)


def _gauge_faults(row: Row, section: Section, *, nominal_mm: float) -> Iterator[SurveyRefused]:
    if section.gauge_mm is None or abs(section.gauge_mm - nominal_mm) <= GAUGE_APART_MM:
        return
    yield fault_at(
        row,
        "gauge-contradicts",
        found=f"a gauge of {section.gauge_mm:g} mm where the route says {nominal_mm:g} mm",
        allowed=f"at most {GAUGE_APART_MM:g} mm between the two",
        todo="correct the gauge of the section, or gauge_mm of the route",
        column="gauge_mm",
    )
