"""The one place that turns reasons into words, metric or US.

Templates are data (``data/sentences.toml``). The code of a reason is either a name of its
``[reason]`` table, or ``quantity/word`` for a measure against its limits, e.g.
``flange_thickness_mm/out-of-limit``; `verdict_reason` makes the latter.

A placeholder ends in the inside unit of its value, so that the number and its unit are converted
together: ``_mm``, ``_m``, ``_km``, ``_kmh``, ``_kn``, ``_deg``, ``_mrad``, ``_hz``, ``_percent``.
``…curve_radius_m`` is said as a curve with its hand, ``…_share`` (0..1) as a percentage and
``…_count`` as a whole number.
"""

from __future__ import annotations

import math
import string
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files

from tapertread.errors import WrongUsage
from tapertread.limits.verdicts import Limit, Sense, Verdict, Word
from tapertread.study.records import Reason
from tapertread.units import M_PER_FOOT, UnitSystem, curve_text, shown

Value = float | str | None

NOT_KNOWN = "an unknown value"
"""Said for a value that is ``None`` or not a finite number."""

BOUND: dict[Sense, str] = {
    "min": "at least",
    "max": "at most",
    "above": "more than",
    "below": "less than",
}

SHORTEST_CHORD_RADIUS_M = 50.0 * M_PER_FOOT
"""Below it no 100 ft chord fits into the curve; only model tracks are that sharp."""

UNIT_SUFFIXES = ("mm", "m", "km", "kmh", "kn", "deg", "mrad", "hz", "percent")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """How a measure is called, its inside unit, and what too low or too high means."""

    name: str
    unit: str
    low: str
    high: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """All templates: verdict words, measures, other reasons."""

    words: dict[str, str]
    measures: dict[str, Measure]
    reasons: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _How:
    """How the values of one sentence are said."""

    code: str
    system: UnitSystem
    unit: str | None


def sentence(reason: Reason, system: UnitSystem = "metric") -> str:
    """Return a reason as one plain English sentence.

    Parameters
    ----------
    reason : Reason
        A code of `reason_codes` with its values in inside units; values that the template does not
        name are left aside.
    system : {"metric", "us"}
        Units to show.

    Raises
    ------
    WrongUsage
        If the code is unknown (near matches are named) or a value of its template is absent.
    """
    template, unit = _template(reason.code)
    values = {**_fixed(reason.code), **reason.values}
    how = _How(code=reason.code, system=system, unit=unit)
    text = _filled(template, values, how=how)
    return text[0].upper() + text[1:]


def verdict_reason(quantity: str, verdict: Verdict) -> Reason:
    """Return the reason of a verdict on a measure, for `sentence`.

    Parameters
    ----------
    quantity : str
        Glossary name of the measure.
    verdict : Verdict
        As `limits.judge` returns it.

    Raises
    ------
    WrongUsage
        If the measure has no name here.
    """
    if quantity not in _table().measures:
        raise WrongUsage(f"no words for measure {quantity!r}{_near(quantity, _table().measures)}")
    limit = verdict.limit
    return Reason(
        code=f"{quantity}/{_kebab(verdict.word)}",
        values={
            "value": verdict.measured.value,
            "expanded": verdict.measured.expanded,
            "why_not": verdict.why_not.rstrip(".") or "no reason was given",
            **_about(limit, quantity=quantity),
        },
    )


def measure_name(quantity: str) -> str:
    """Return what a person calls a measure, e.g. ``flange thickness``.

    Raises
    ------
    WrongUsage
        If the measure has no name here.
    """
    try:
        return _table().measures[quantity].name
    except KeyError:
        near = _near(quantity, _table().measures)
        raise WrongUsage(f"no words for measure {quantity!r}{near}") from None


def reason_codes() -> tuple[str, ...]:
    """Return every code that `sentence` knows."""
    table = _table()
    pairs = (f"{quantity}/{word}" for quantity in table.measures for word in table.words)
    return (*table.reasons, *pairs)


def placeholders(code: str) -> tuple[str, ...]:
    """Return the names of the values that a code needs, in the order of its sentence.

    Raises
    ------
    WrongUsage
        If the code is unknown.
    """
    fixed = _fixed(code)
    template, _ = _template(code)
    names = (name for _, name, _, _ in string.Formatter().parse(template) if name)
    return tuple(dict.fromkeys(name for name in names if name not in fixed))


@cache
def _table() -> Table:
    text = files("tapertread").joinpath("data", "sentences.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)
    return Table(
        words=rows["word"],
        measures={name: Measure(**row) for name, row in rows["measure"].items()},
        reasons=rows["reason"],
    )


def _template(code: str) -> tuple[str, str | None]:
    """Return the template of a code, and the unit of its measure where it has one."""
    table = _table()
    if code in table.reasons:
        return table.reasons[code], None
    quantity, _, word = code.partition("/")
    if quantity in table.measures and word in table.words:
        return table.words[word], table.measures[quantity].unit
    raise WrongUsage(f"no sentence for reason {code!r}{_near(code, reason_codes())}")


def _fixed(code: str) -> dict[str, Value]:
    """Return the values that the code itself settles: the name of its measure."""
    quantity, _, word = code.partition("/")
    return {"name": _table().measures[quantity].name} if word else {}


def _about(limit: Limit | None, *, quantity: str) -> dict[str, Value]:
    if limit is None:
        return {"limit": None, "bound": "", "place": "", "meaning": ""}
    measure = _table().measures[quantity]
    places = (limit.edition, limit.clause if limit.clause != "none" else "")
    return {
        "limit": limit.value,
        "bound": BOUND[limit.sense],
        "place": ", ".join(part for part in places if part),
        "meaning": measure.low if limit.is_lower else measure.high,
    }


def _filled(template: str, values: Mapping[str, Value], *, how: _How) -> str:
    parts: list[str] = []
    for plain, name, digits, _ in string.Formatter().parse(template):
        parts.append(plain)
        if name is None:
            continue
        if name not in values:
            raise WrongUsage(f"reason {how.code!r} lacks its value {name!r}")
        decimals = int(digits) if digits else None
        parts.append(said(name, values[name], system=how.system, unit=how.unit, digits=decimals))
    return "".join(parts)


def said(
    name: str,
    value: Value,
    *,
    system: UnitSystem = "metric",
    unit: str | None = None,
    digits: int | None = None,
) -> str:
    """Return one value as a person reads it.

    Parameters
    ----------
    name : str
        Its name, whose ending says the unit.
    value : float, str or None
        In the inside unit.
    system : {"metric", "us"}
    unit : str or None
        Unit of ``value``, ``expanded`` and ``limit``, which carry none in their name.
    digits : int or None
        Decimals in metric, else those usual for the unit; inches get one more, and never fewer
        than three.
    """
    if isinstance(value, str):
        return value
    if name.endswith("curve_radius_m") and value is not None and not math.isnan(value):
        return _curve(value, system=system)
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    if name.endswith("_share"):
        return f"{100.0 * value:.0f} %"
    if name.endswith("_count"):
        return f"{value:.0f}"
    return _number(value, _unit_of(name, unit), system=system, digits=digits)


def _unit_of(name: str, unit: str | None) -> str:
    if unit is not None and name in ("value", "expanded", "limit"):
        return unit
    ending = name.rpartition("_")[2]
    return ending if ending in UNIT_SUFFIXES else ""


def _number(value: float, unit: str, *, system: UnitSystem, digits: int | None) -> str:
    how = shown(unit, system)
    decimals = how.digits if digits is None else digits
    if how.unit == "in" and digits is not None:
        decimals = max(how.digits, digits + 1)
    number = f"{value * how.factor:.{decimals}f}"
    space = "" if how.unit in ("", "°") else " "
    return f"{_plain_zero(number)}{space}{how.unit}"


def _plain_zero(number: str) -> str:
    """Return the number without the sign of a negative zero."""
    return number.lstrip("-") if not number.strip("-0.") else number


def _curve(radius_m: float, *, system: UnitSystem) -> str:
    """Return a curve with its hand: by degree in US units, by radius where no 100 ft chord fits."""
    if math.isinf(radius_m) or (system == "us" and abs(radius_m) >= SHORTEST_CHORD_RADIUS_M):
        return curve_text(radius_m, system=system)
    hand = "right" if radius_m > 0.0 else "left"
    digits = 0 if abs(radius_m) >= 10.0 else 1
    return f"R {_number(abs(radius_m), 'm', system=system, digits=digits)} {hand}"


def _kebab(word: Word) -> str:
    return word.value.replace(" ", "-")


def _near(name: str, known: Sequence[str] | Mapping[str, object]) -> str:
    matches = get_close_matches(name, list(known), n=3, cutoff=0.5)
    return f" (did you mean {', '.join(matches)}?)" if matches else ""
