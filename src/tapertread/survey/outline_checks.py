"""Whether an outline belongs to the survey: its side, campaign and asset must be known."""

from __future__ import annotations

from dataclasses import dataclass

from tapertread.errors import OutlineRefused, Where
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.survey.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """What outlines may refer to."""

    campaigns: frozenset[object]
    wheelsets: frozenset[object]
    sections: frozenset[object]


def names_in(book: Book) -> Names:
    """Return the names that the records of a survey hold."""
    return Names(
        campaigns=frozenset(book.values("campaigns", "campaign")),
        wheelsets=frozenset(book.values("wheelsets", "wheelset")),
        sections=frozenset(book.values("sections", "section")),
    )


def outline_fault(raw: RawOutline, *, names: Names) -> OutlineRefused | None:
    """Return why an outline cannot be filed, ``None`` where it can."""
    if raw.side is None:
        return _fault(
            raw,
            "side-unknown",
            found="an outline of no stated side",
            allowed="left or right",
            todo="add a column side, or state it in the recipe",
        )
    if not raw.campaign:
        return _fault(
            raw,
            "campaign-unknown",
            found="an outline of no stated campaign",
            allowed="a campaign of the survey",
            todo="add a column campaign, or state it in the recipe",
        )
    if raw.campaign not in names.campaigns:
        return _unknown(raw, "campaign", raw.campaign, table="campaigns")
    if raw.kind == "wheel" and raw.asset not in names.wheelsets:
        return _unknown(raw, "wheelset", raw.asset, table="wheelsets")
    if raw.kind == "rail" and raw.asset not in names.sections:
        return _unknown(raw, "section", raw.asset, table="sections")
    return None


def _unknown(raw: RawOutline, column: str, value: str, *, table: str) -> OutlineRefused:
    return _fault(
        raw,
        "unknown-reference",
        found=f"{column} {value!r}, which the table {table} does not hold",
        allowed=f"what the table {table} holds",
        todo=f"correct the name, or bring {table} in first",
    )


def _fault(raw: RawOutline, code: str, *, found: str, allowed: str, todo: str) -> OutlineRefused:
    where = Where(file=raw.file, line=raw.first_line, record=raw.record)
    return OutlineRefused(code, found, allowed=allowed, todo=todo, where=where)
