"""Rows become rules: limits in inside units, act and watch levels set ahead of them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from tapertread.limits.conditions import When
from tapertread.limits.rows import LevelRow, LimitRow, SetFile, refused_row
from tapertread.limits.verdicts import Limit
from tapertread.units import FACTORS, to_inside


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A limit with the conditions under which it applies.

    `share` and `new` (inside unit) say how an act or watch level was set, ``None`` otherwise.
    """

    limit: Limit
    when: When = field(default_factory=dict)
    share: float | None = None
    new: float | None = None


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
                raise refused_row(
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
            raise refused_row(
                "level-undefined",
                f"a {row.level} level with share {row.share}, new {row.new}, margin {row.margin}",
                allowed="share with new, or margin alone",
                file=file,
                record=limit.id,
            )
    if limit.margin(value) <= 0.0:
        raise refused_row(
            "level-beyond-limit",
            f"the {row.level} level {value:g} is not ahead of the limit {limit.value:g}",
            allowed="a level on the allowed side",
            file=file,
            record=limit.id,
        )
    level = _earlier(limit, row, value=value, note=note)
    return Rule(limit=level, when=rule.when, share=row.share, new=new)


def _earlier(limit: Limit, row: LevelRow, *, value: float, note: str) -> Limit:
    """Return a level ahead of a limit; reaching it counts."""
    return replace(
        limit,
        id=f"{limit.id}-{row.level}",
        sense="above" if limit.is_lower else "below",
        value=value,
        level=row.level,
        edition=row.edition,
        clause="none",
        source=row.source,
        status=row.status,
        confidence="",
        stated="",
        note=note,
        toward=limit,
    )
