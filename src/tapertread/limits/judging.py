"""How a measured value becomes a verdict word.

The value with its expanded uncertainty (k = 2) [gum-2008] is an interval. Against a *limit*: all of
it allowed, all of it forbidden (*out of limit*), or neither, and then the word is *measure again*:
a guard band on both sides of the limit [jcgm-106-2012]. Whether the limit value itself is allowed
decides at the ends. *Act* and *watch* levels are the user's own spread of work, so the value alone
is held against them, unless its uncertainty is of the level's own size: a value beyond a level that
lies within an expanded uncertainty of more than half the level says *measure again*.

A reading without uncertainty is never judged sound: on the allowed side of everything it is *not
assessed*; beyond a limit or a level it is *measure again*, to be treated as out of limit meanwhile.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from tapertread.errors import LimitsRefused
from tapertread.limits.choosing import Choice
from tapertread.limits.verdicts import Level, Limit, Verdict, Word
from tapertread.shapes.measured import Measured

DECIDING = (Word.OUT, Word.AGAIN, Word.ACT, Word.WATCH, Word.SOUND)
"""Which word decides when several limits apply: a value near its limit is measured again first."""

REACHED: dict[Level, Word] = {"limit": Word.OUT, "act": Word.ACT, "watch": Word.WATCH}
"""The word of a value beyond a limit or level."""

WIDEST_SHARE = 0.5
"""An expanded uncertainty wider than this share of an act or watch level cannot tell that a value
lies beyond it (common practice, no source)."""

WITHIN_BAND = "the limit lies within the expanded uncertainty of the value"
TOO_WIDE = "the level lies within an expanded uncertainty of more than half the level"
UNSURE_BEYOND = (
    "the reading is beyond the limit or level but carries no uncertainty; treat it as out of limit "
    "until it is measured again"
)
UNSURE = "the value carries no uncertainty, so it cannot be held against a limit"


def judge(measured: Measured, limits: Sequence[Limit]) -> Verdict:
    """Return the verdict on a measured value against all limits and levels that apply.

    Parameters
    ----------
    measured : Measured
        Value and standard uncertainty, in the unit of the limits.
    limits : sequence of Limit
        As `LimitSet.for_quantity` returns them. Where some are missing because a condition is not
        known, a word stands only if none of those could be graver; otherwise the value is *not
        assessed*.

    Raises
    ------
    LimitsRefused
        If a limit has another unit than the value.
    """
    why_not = limits.why_not if isinstance(limits, Choice) else ""
    _check_units(measured, limits)
    blank = _cannot_judge(measured) or ("" if limits else why_not or "no limit applies")
    if blank:
        return _not_assessed(measured, limits, blank)
    verdict = _decided(measured, limits)
    if why_not and not _stands(verdict.word, limits):
        return _not_assessed(measured, limits, why_not)
    return verdict


def judge_between(ends: tuple[Measured, Measured], limits: Sequence[Limit]) -> Verdict:
    """Return the verdict where the truth lies anywhere between two values, e.g. of a nominal gauge.

    The same word at both ends: that word, at the end nearer to the limit. An end that is not
    assessed: that one. Otherwise *measure again*, because what is only nominal decides.

    Parameters
    ----------
    ends : two of Measured
        Value at either end of the band, in either order.
    limits : sequence of Limit
    """
    nearer, farther = sorted((judge(end, limits) for end in ends), key=_closeness)
    for verdict in (nearer, farther):
        if verdict.word is Word.NOT_ASSESSED:
            return verdict
    if nearer.word is farther.word and (nearer.word is Word.SOUND or _same_side(nearer, farther)):
        return nearer
    return Verdict(
        word=Word.AGAIN,
        measured=nearer.measured,
        limit=nearer.limit,
        why_not=f"{nearer.word} at one end of what is only nominal, {farther.word} at the other",
    )


def gravest(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the gravest of several verdicts; of equals the one nearest to its limit.

    Raises
    ------
    ValueError
        If there is none.
    """
    return min(verdicts, key=lambda verdict: (verdict.word.gravity, _closeness(verdict)))


def _decided(measured: Measured, limits: Sequence[Limit]) -> Verdict:
    words = {limit.id: _word(measured, limit) for limit in limits}
    word = min(words.values(), key=DECIDING.index)
    limit = _nearest([limit for limit in limits if words[limit.id] is word], measured, word=word)
    if measured.uncertainty is None:
        if word is Word.SOUND:
            return _not_assessed(measured, limits, UNSURE)
        return Verdict(word=Word.AGAIN, measured=measured, limit=limit, why_not=UNSURE_BEYOND)
    why_not = ""
    if word is Word.AGAIN:
        why_not = WITHIN_BAND if limit.level == "limit" else TOO_WIDE
    return Verdict(word=word, measured=measured, limit=limit, why_not=why_not)


def _stands(word: Word, limits: Sequence[Limit]) -> bool:
    """Return whether no limit that is still open could make the word graver."""
    if word in (Word.OUT, Word.AGAIN):
        return True
    levels = limits.open_levels if isinstance(limits, Choice) else ()
    gravest_open = min((DECIDING.index(REACHED[level]) for level in levels), default=0)
    return DECIDING.index(word) <= gravest_open


def _word(measured: Measured, limit: Limit) -> Word:
    value = _value(measured)
    band = measured.expanded or 0.0
    low, high = limit.allows(value - band), limit.allows(value + band)
    if limit.level != "limit":
        if limit.allows(value):
            return Word.SOUND
        unsure = band > WIDEST_SHARE * abs(limit.value) and (low or high)
        return Word.AGAIN if unsure else REACHED[limit.level]
    if low and high:
        return Word.SOUND
    return Word.AGAIN if low or high else Word.OUT


def _nearest(limits: Sequence[Limit], measured: Measured, *, word: Word) -> Limit:
    """Return the limit to show: the one most broken; of a sound value the nearest real limit."""
    value = _value(measured)
    real = [limit for limit in limits if limit.level == "limit"] if word is Word.SOUND else []
    return min(real or limits, key=lambda limit: limit.margin(value))


def _cannot_judge(measured: Measured) -> str:
    value, uncertainty = measured.value, measured.uncertainty
    if value is None:
        return measured.reason or "there is no measured value"
    if not math.isfinite(value):
        return f"the value is not a finite number ({value})"
    if uncertainty is not None and not (math.isfinite(uncertainty) and uncertainty >= 0.0):
        return f"the uncertainty is not a finite number from zero up ({uncertainty})"
    return ""


def _value(measured: Measured) -> float:
    if measured.value is None:
        raise ValueError("a missing value has no word")
    return measured.value


def _check_units(measured: Measured, limits: Sequence[Limit]) -> None:
    for limit in limits:
        if limit.unit != measured.unit:
            raise LimitsRefused(
                "unit-mismatch",
                f"a value in {measured.unit!r} against limit {limit.id} in {limit.unit!r}",
                allowed="value and limit in the same inside unit",
                todo="convert the value at the edge, see tapertread.units",
            )


def _not_assessed(measured: Measured, limits: Sequence[Limit], why_not: str) -> Verdict:
    limit = limits[0] if limits else None
    return Verdict(word=Word.NOT_ASSESSED, measured=measured, limit=limit, why_not=why_not)


def _same_side(one: Verdict, other: Verdict) -> bool:
    return (
        one.limit is not None
        and other.limit is not None
        and (one.limit.is_lower == other.limit.is_lower)
    )


def _closeness(verdict: Verdict) -> float:
    margin = verdict.margin
    return math.inf if margin is None or math.isnan(margin) else margin
