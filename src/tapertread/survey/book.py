"""All records that would be current together, with the places where they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar, cast

from tapertread.errors import SurveyRefused
from tapertread.railway.records import Record
from tapertread.survey.columns import RECORDS, table_kinds
from tapertread.survey.tables import Row, record_label

R = TypeVar("R", bound=Record)

TABLE_OF = {record: name for name, record in RECORDS.items()}
"""Record → the table that it is a row of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """All rows that hold at once, by table."""

    rows: Mapping[str, Sequence[Row]]

    def of(self, kind: str) -> Sequence[Row]:
        """Return the rows of one table."""
        return self.rows.get(kind, ())

    def pairs(self, record: type[R]) -> list[tuple[Row, R]]:
        """Return the rows of one kind of record, each beside its record."""
        return [(row, cast("R", row.record)) for row in self.of(TABLE_OF[record])]

    def values(self, kind: str, field: str) -> set[object]:
        """Return the values that a field takes."""
        return {getattr(row.record, field) for row in self.of(kind)}


def label_of(row: Row) -> str:
    """Return the words by which a person finds a row."""
    return record_label(table_kinds()[TABLE_OF[type(row.record)]], row.record)


def fault_at(
    row: Row, code: str, *, found: str, allowed: str, todo: str, column: str
) -> SurveyRefused:
    """Return a refusal at one column of a row."""
    where = row.where(label_of(row), column=column)
    return SurveyRefused(code, found, allowed=allowed, todo=todo, where=where)


def moved_to(row: Row, fault: SurveyRefused, *, column: str) -> SurveyRefused:
    """Return a refusal that was raised about a record, at the place where the record stands."""
    return fault_at(
        row, fault.code, found=fault.found, allowed=fault.allowed, todo=fault.todo, column=column
    )


def unknown(row: Row, field: str, *, target: str) -> SurveyRefused:
    """Return the refusal of a name that another table does not hold."""
    return fault_at(
        row,
        "unknown-reference",
        found=f"{field} {getattr(row.record, field)!r}, which the table {target} does not hold",
        allowed=f"what the table {target} holds",
        todo=f"correct the name, or bring {target} in first",
        column=field,
    )
