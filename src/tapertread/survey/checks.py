"""Whether the records of a survey agree with one another: duplicates, references, shares, places.

Every check gets all records that would be current after an import and yields one refusal for each
fault, at the record that is at fault. Geometry (can this wheelset stand on that track?) is judged
later, by contact.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence

from tapertread.errors import SurveyRefused
from tapertread.railway import (
    Inspection,
    RoutePiece,
    Section,
    Service,
    Treatment,
    Wheelset,
    friction_states,
    inclination_slope,
)
from tapertread.survey.book import Book, fault_at, label_of, moved_to, unknown
from tapertread.survey.columns import table_kinds
from tapertread.survey.places import check_routes
from tapertread.survey.tables import Row

SHARE_TOLERANCE = 1e-6

Check = Callable[[Book], Iterator[SurveyRefused]]

REFERENCES = (
    ("wheelsets", "vehicle", "vehicles", "vehicle"),
    ("wheelsets", "campaign", "campaigns", "campaign"),
    ("sections", "campaign", "campaigns", "campaign"),
    ("services", "fleet", "vehicles", "fleet"),
    ("inspections", "campaign", "campaigns", "campaign"),
    ("bands", "section", "sections", "section"),
    ("bands", "campaign", "campaigns", "campaign"),
    ("friction", "section", "sections", "section"),
    ("friction", "campaign", "campaigns", "campaign"),
)
"""Table and column → table and column in which the same value must exist."""


def check_book(book: Book) -> list[SurveyRefused]:
    """Return every fault of the records of a survey."""
    return [fault for check in CHECKS for fault in check(book)]


def check_duplicates(kind: str, rows: Sequence[Row]) -> list[SurveyRefused]:
    """Return a fault for each row whose key an earlier row of the same file has."""
    table = table_kinds()[kind]
    first: dict[str, Row] = {}
    faults = []
    for row in rows:
        before = first.setdefault(table.key_of(row.record), row)
        if before is not row:
            faults.append(_duplicate(kind, row, before))
    return faults


def check_references(book: Book) -> Iterator[SurveyRefused]:
    """Yield a fault for each reference to something that does not exist."""
    for kind, field, target, target_field in REFERENCES:
        known = book.values(target, target_field)
        for row in book.of(kind):
            if getattr(row.record, field) not in known:
                yield unknown(row, field, target=target)


def check_assets(book: Book) -> Iterator[SurveyRefused]:
    """Yield a fault for each inspection or treatment of an unknown wheelset or section."""
    known = {
        "wheelsets": book.values("wheelsets", "wheelset"),
        "sections": book.values("sections", "section"),
    }
    named = [
        (row, one.asset, "wheelsets" if one.subject == "wheel" else "sections")
        for row, one in book.pairs(Inspection)
    ]
    named += [
        (row, one.asset, "wheelsets" if one.kind == "turning" else "sections")
        for row, one in book.pairs(Treatment)
    ]
    for row, asset, target in named:
        if asset not in known[target]:
            yield unknown(row, "asset", target=target)


def check_axles(book: Book) -> Iterator[SurveyRefused]:
    """Yield a fault where two wheelsets stand on one axle in one campaign."""
    seen: dict[tuple[str, int, str], str] = {}
    for row, one in book.pairs(Wheelset):
        before = seen.setdefault((one.vehicle, one.axle, one.campaign), one.wheelset)
        if before != one.wheelset:
            yield fault_at(
                row,
                "axle-twice",
                found=f"axle {one.axle} of vehicle {one.vehicle}, which carries {before} already",
                allowed="one wheelset on each axle in each campaign",
                todo="correct vehicle, axle or campaign",
                column="axle",
            )


def check_shares(book: Book) -> Iterator[SurveyRefused]:
    """Yield a fault where the shares of a fleet are more than the whole."""
    total: defaultdict[str, float] = defaultdict(float)
    for row, service in book.pairs(Service):
        total[service.fleet] += service.share
        if total[service.fleet] > 1.0 + SHARE_TOLERANCE:
            yield fault_at(
                row,
                "shares-above-one",
                found=f"shares of the fleet {service.fleet} that add up to "
                f"{total[service.fleet]:g}",
                allowed="shares of at most 1 in all",
                todo="correct the shares of this fleet",
                column="share",
            )


def check_words(book: Book) -> Iterator[SurveyRefused]:
    """Yield a fault for each unknown friction state and unreadable inclination."""
    for row, piece in book.pairs(RoutePiece):
        if piece.friction_state not in friction_states():
            yield fault_at(
                row,
                "unknown-friction-state",
                found=f"the friction state {piece.friction_state!r}",
                allowed=", ".join(friction_states()),
                todo="use one of these names",
                column="friction_state",
            )
    for row, section in book.pairs(Section):
        try:
            inclination_slope(section.inclination)
        except SurveyRefused as fault:
            yield moved_to(row, fault, column="inclination")


CHECKS: tuple[Check, ...] = (
    check_references,
    check_assets,
    check_axles,
    check_shares,
    check_words,
    check_routes,
)


def _duplicate(kind: str, row: Row, before: Row) -> SurveyRefused:
    return SurveyRefused(
        "duplicate-id",
        f"a second row of the same {', '.join(table_kinds()[kind].key)}; "
        f"the first is line {before.line}",
        allowed="one row of each in a file",
        todo="correct or remove one of the two",
        where=row.where(label_of(row)),
    )
