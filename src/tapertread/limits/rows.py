"""Limit set files: TOML in the layout of ``data/limits``, read into rows or refused.

A file holds ``[[limit]]`` rows, ``[[level]]`` rows that set act and watch levels ahead of limits,
``[[absent]]`` rows that say why a quantity has no limit, and ``[[class_speed]]`` rows. Values stand
in the unit of the source (mm, in, or none).
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection
from typing import Literal

import msgspec

from tapertread.errors import LimitsRefused, Where
from tapertread.limits.conditions import CONDITIONS, When
from tapertread.limits.verdicts import Level, Sense
from tapertread.sources import STATUSES, all_sources
from tapertread.units import FACTORS

HOUSE_EDITION = "house level of this tool, override me"
HOUSE_SOURCE = "house-levels"
HOUSE_STATUS = "common practice, no source"


class LimitRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One published limit as the file states it."""

    id: str
    quantity: str
    sense: Sense
    value: float
    unit: str
    edition: str
    clause: str
    source: str
    status: str
    level: Level = "limit"
    confidence: Literal["", "high", "medium", "low"] = ""
    applies: str = ""
    stated: str = ""
    note: str = ""
    when: When = msgspec.field(default_factory=dict)


class LevelRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An earlier level ahead of the limits named in `of`.

    Either `share` of the way from `new` to the limit, or `margin` ahead of it; both in the unit of
    the limit's own row. A level that does not say whose it is counts as one of this tool.
    """

    level: Literal["act", "watch"]
    of: tuple[str, ...]
    share: float | None = None
    new: float | None = None
    margin: float | None = None
    edition: str = HOUSE_EDITION
    source: str = HOUSE_SOURCE
    status: str = HOUSE_STATUS


class AbsentRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Why a quantity has no limit, under conditions or always."""

    quantity: str
    why: str
    when: When = msgspec.field(default_factory=dict)


class ClassSpeedRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Highest speed of one track class, mph; ``None`` where the traffic is not allowed."""

    track_class: str
    freight_mph: float | None = None
    passenger_mph: float | None = None
    clause: str


class SetFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A whole limit set file."""

    name: str
    title: str
    caution: str
    nominal_gauge_mm: float | None = None
    gauge_rule: Literal["smallest-0-14-mm", "at-five-eighths-inch"] | None = None
    limit: tuple[LimitRow, ...] = ()
    level: tuple[LevelRow, ...] = ()
    absent: tuple[AbsentRow, ...] = ()
    class_speed: tuple[ClassSpeedRow, ...] = ()


def parse_set(text: str, *, file: str) -> SetFile:
    """Return the rows of a limit set file.

    Parameters
    ----------
    text : str
        TOML.
    file : str
        Its name, for refusals.

    Raises
    ------
    LimitsRefused
        If the text is no TOML, or a row has a missing, unknown or ill-typed field, an unknown unit,
        status, condition or source, or an identifier twice.
    """
    try:
        rows = msgspec.convert(tomllib.loads(text), SetFile)
    except tomllib.TOMLDecodeError as fault:
        raise refused_row("no-toml", str(fault), allowed="TOML", file=file) from None
    except msgspec.ValidationError as fault:
        allowed = "the rows and fields that docs/limits.md describes"
        raise refused_row("bad-row", str(fault), allowed=allowed, file=file) from None
    _check(rows, file=file)
    return rows


def refused_row(
    code: str, found: str, *, allowed: str, file: str, record: str | None = None
) -> LimitsRefused:
    """Return the refusal of a row of a limit set file."""
    return LimitsRefused(
        code,
        found,
        allowed=allowed,
        todo="correct the limit set file",
        where=Where(file=file, record=record),
    )


def _check(rows: SetFile, *, file: str) -> None:
    seen: set[str] = set()
    for row in rows.limit:
        if row.id in seen:
            raise refused_row(
                "duplicate-id", row.id, allowed="each identifier once", file=file, record=row.id
            )
        seen.add(row.id)
        if not math.isfinite(row.value):
            raise refused_row(
                "not-finite", str(row.value), allowed="a finite value", file=file, record=row.id
            )
        _among("unknown-unit", row.unit, {"", *FACTORS}, file=file, record=row.id)
    stated = [(row.id, row.status, row.source) for row in rows.limit]
    stated += [(", ".join(row.of), row.status, row.source) for row in rows.level]
    for record, status, source in stated:
        _among("unknown-status", status, STATUSES, file=file, record=record)
        _among("unknown-source", source, all_sources(), file=file, record=record)
    conditions = [row.when for row in rows.limit] + [row.when for row in rows.absent]
    for name in {name for when in conditions for name in when}:
        _among("unknown-condition", name, CONDITIONS, file=file)


def _among(
    code: str, value: str, choices: Collection[str], *, file: str, record: str | None = None
) -> None:
    if value not in choices:
        listed = ", ".join(repr(choice) for choice in sorted(choices))
        raise refused_row(code, repr(value), allowed=listed, file=file, record=record)
