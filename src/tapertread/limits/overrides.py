"""A user's own values in place of published ones; the original stays visible beside them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from tapertread.errors import LimitsRefused, Where
from tapertread.limits.choosing import LimitSet, unknown_limit
from tapertread.limits.rules import Rule, level_value
from tapertread.limits.verdicts import Limit

OVERRIDDEN = "user override"
OWN_RULE = "owner-rule"


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """One ``[[override]]`` of a survey.

    Attributes
    ----------
    id : str
        Identifier of the limit or level that it replaces.
    value : float
        In the inside unit of the limit (mm where it is a length).
    edition : str
        The document that the value stands in, as the user names it.
    why : str
        Why it replaces the published one.
    """

    id: str
    value: float
    edition: str
    why: str


def with_overrides(limits: LimitSet, overrides: Iterable[Override]) -> LimitSet:
    """Return the set with some values replaced and marked ``user override``.

    Levels set as a share of the way to a limit, or at a margin ahead of it, move with it unless
    they are overridden themselves.

    Raises
    ------
    LimitsRefused
        If an identifier is unknown or given twice, a value is not finite, edition or why is empty,
        or a level would lie beyond its limit.
    """
    chosen: dict[str, Override] = {}
    known = [limit.id for limit in limits]
    for override in overrides:
        _check(override, chosen, known=known)
        chosen[override.id] = override
    replaced = {
        rule.limit.id: _overridden(rule.limit, chosen[rule.limit.id])
        for rule in limits.rules
        if rule.limit.id in chosen
    }
    rules = tuple(_moved(rule, replaced) for rule in limits.rules)
    for rule in rules:
        _check_order(rule.limit)
    return replace(limits, rules=rules)


def _check(override: Override, before: Iterable[str], *, known: list[str]) -> None:
    if override.id not in known:
        raise unknown_limit(override.id, known).at(record=override.id)
    faults = (
        ("override-twice", override.id in before, "the identifier is given twice", "once"),
        ("not-finite", not math.isfinite(override.value), str(override.value), "a finite value"),
        ("no-edition", not override.edition.strip(), "no edition", "the document it stands in"),
        ("no-why", not override.why.strip(), "no reason why", "a reason in words"),
    )
    for code, is_fault, found, allowed in faults:
        if is_fault:
            raise _refused(code, found, allowed=allowed, record=override.id)


def _overridden(limit: Limit, override: Override) -> Limit:
    return replace(
        limit,
        value=override.value,
        edition=override.edition,
        clause="none",
        source=OWN_RULE,
        status=OVERRIDDEN,
        confidence="",
        stated="",
        note=override.why,
        replaces=limit,
    )


def _moved(rule: Rule, replaced: dict[str, Limit]) -> Rule:
    """Return the rule with its limit replaced, or its level moved along with the limit."""
    limit = replaced.get(rule.limit.id, rule.limit)
    before = rule.limit.toward
    after = None if before is None else replaced.get(before.id)
    if before is None or after is None:
        return replace(rule, limit=limit)
    if limit.replaces is not None:
        return replace(rule, limit=replace(limit, toward=after))
    if rule.share is not None and rule.new is not None:
        value = level_value(after, share=rule.share, new=rule.new)
    else:
        value = limit.value + after.value - before.value
    return replace(rule, limit=replace(limit, value=value, toward=after))


def _check_order(limit: Limit) -> None:
    toward = limit.toward
    if toward is not None and toward.margin(limit.value) <= 0.0:
        raise _refused(
            "level-beyond-limit",
            f"the {limit.level} level {limit.value:g} would not be ahead of the limit "
            f"{toward.id} at {toward.value:g}",
            allowed="a level on the allowed side of its limit",
            record=limit.id,
        )


def _refused(code: str, found: str, *, allowed: str, record: str) -> LimitsRefused:
    return LimitsRefused(
        code,
        found,
        allowed=allowed,
        todo="correct the override in survey.toml",
        where=Where(record=record),
    )
