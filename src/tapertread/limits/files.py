"""Limit set files: TOML in the layout of ``data/limits``, read into rules or refused.

A file holds ``[[limit]]`` rows, ``[[level]]`` rows that set act and watch levels ahead of limits,
``[[absent]]`` rows that say why a quantity has no limit, and ``[[class_speed]]`` rows. Values stand
in the unit of the source (mm, in, or none) and are converted here.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection
from dataclasses import dataclass, field, replace
from typing import Literal

import msgspec

from tapertread.errors import LimitsRefused, Where
from tapertread.limits.conditions import CONDITIONS, When
from tapertread.limits.verdicts import Level, Limit, Sense
from tapertread.sources import STATUSES, all_sources
from tapertread.units import FACTORS, to_inside

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
    the limit's own row.
    """

    level: Literal["act", "watch"]
    of: tuple[str, ...]
    share: float | None = None
    new: float | None = None
    margin: float | None = None


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A limit with the conditions under which it applies.

    `share` and `new` (inside unit) say how an act or watch level was set, ``None`` otherwise.
    """

    limit: Limit
    when: When = field(default_factory=dict)
    share: float | None = None
    new: float | None = None


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
        raise _refused("no-toml", str(fault), allowed="TOML", file=file) from None
    except msgspec.ValidationError as fault:
        allowed = "the rows and fields that docs/limits.md describes"
        raise _refused("bad-row", str(fault), allowed=allowed, file=file) from None
    _check(rows, file=file)
    return rows


def rules_of(rows: SetFile, *, file: str) -> tuple[Rule, ...]:
    """Return the limits of a file followed by the act and watch levels set ahead of them.

    Raises
    ------
    LimitsRefused
        If a level names an unknown limit, has no or two definitions, or lies beyond its limit.
    """
    limits = {row.id: Rule(limit=_limit(row), when=row.when) for row in rows.limit}
    factor = {row.id: _factor(row.unit) for row in rows.limit}
    levels = []
    for row in rows.level:
        for name in row.of:
            if name not in limits:
                raise _refused(
                    "unknown-limit",
                    f"a level of {name!r}, which the file does not hold",
                    allowed="limits of the same file",
                    file=file,
                )
            levels.append(_level_rule(row, limits[name], factor=factor[name], file=file))
    return (*limits.values(), *levels)


def level_value(limit: Limit, *, share: float, new: float) -> float:
    """Return the level at a share (0..1) of the way from the value when new to the limit."""
    return new + share * (limit.value - new)


def _check(rows: SetFile, *, file: str) -> None:
    seen: set[str] = set()
    for row in rows.limit:
        if row.id in seen:
            raise _refused(
                "duplicate-id", row.id, allowed="each identifier once", file=file, record=row.id
            )
        seen.add(row.id)
        known: tuple[tuple[str, str, Collection[str]], ...] = (
            ("unknown-unit", row.unit, {"", *FACTORS}),
            ("unknown-status", row.status, STATUSES),
            ("unknown-source", row.source, all_sources()),
        )
        for code, value, choices in known:
            _among(code, value, choices, file=file, record=row.id)
        if not math.isfinite(row.value):
            raise _refused(
                "not-finite", str(row.value), allowed="a finite value", file=file, record=row.id
            )
    conditions = [row.when for row in rows.limit] + [row.when for row in rows.absent]
    for name in {name for when in conditions for name in when}:
        _among("unknown-condition", name, CONDITIONS, file=file)


def _among(
    code: str, value: str, choices: Collection[str], *, file: str, record: str | None = None
) -> None:
    if value not in choices:
        listed = ", ".join(repr(choice) for choice in sorted(choices))
        raise _refused(code, repr(value), allowed=listed, file=file, record=record)


def _factor(unit: str) -> float:
    return to_inside(1.0, unit) if unit else 1.0


def _limit(row: LimitRow) -> Limit:
    return Limit(
        id=row.id,
        quantity=row.quantity,
        sense=row.sense,
        value=row.value * _factor(row.unit),
        unit=FACTORS[row.unit][0] if row.unit else "",
        level=row.level,
        edition=row.edition,
        clause=row.clause,
        source=row.source,
        status=row.status,
        confidence=row.confidence,
        applies=row.applies,
        stated=row.stated,
        note=row.note,
    )


def _level_rule(row: LevelRow, rule: Rule, *, factor: float, file: str) -> Rule:
    limit = rule.limit
    new = None if row.new is None else row.new * factor
    match (row.share, new, row.margin):
        case (float(share), float(fresh), None):
            value = level_value(limit, share=share, new=fresh)
            note = f"{share:.0%} of the way from new ({fresh:g} {limit.unit}) to the limit"
        case (None, None, float(margin)):
            value = limit.value + margin * factor * (1.0 if limit.is_lower else -1.0)
            note = f"{margin * factor:g} {limit.unit} ahead of the limit"
        case _:
            raise _refused(
                "level-undefined",
                f"a {row.level} level with share {row.share}, new {row.new}, margin {row.margin}",
                allowed="share with new, or margin alone",
                file=file,
                record=limit.id,
            )
    level = earlier_level(limit, level=row.level, value=value, note=note)
    if limit.margin(value) <= 0.0:
        raise _refused(
            "level-beyond-limit",
            f"the {row.level} level {value:g} is not ahead of the limit {limit.value:g}",
            allowed="a level on the allowed side",
            file=file,
            record=limit.id,
        )
    return Rule(limit=level, when=rule.when, share=row.share, new=new)


def earlier_level(
    limit: Limit, *, level: Literal["act", "watch"], value: float, note: str
) -> Limit:
    """Return a house level ahead of a limit, marked as such; reaching it counts."""
    return replace(
        limit,
        id=f"{limit.id}-{level}",
        sense="above" if limit.is_lower else "below",
        value=value,
        level=level,
        edition=HOUSE_EDITION,
        clause="none",
        source=HOUSE_SOURCE,
        status=HOUSE_STATUS,
        confidence="",
        stated="",
        note=note,
        toward=limit,
    )


def _refused(
    code: str, found: str, *, allowed: str, file: str, record: str | None = None
) -> LimitsRefused:
    return LimitsRefused(
        code,
        found,
        allowed=allowed,
        todo="correct the limit set file",
        where=Where(file=file, record=record),
    )
