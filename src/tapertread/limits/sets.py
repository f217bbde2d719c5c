"""Limit sets by name, from a user's own file, or several together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path

from tapertread.errors import FileRefused, LimitsRefused, Where
from tapertread.limits.choosing import Choice, LimitSet, near
from tapertread.limits.rows import parse_set
from tapertread.limits.rules import rules_of

__all__ = ["Choice", "LimitSet", "limit_set", "limit_set_names", "read_limit_set", "together"]

_FOLDER = files("tapertread").joinpath("data", "limits")


@cache
def limit_set(name: str) -> LimitSet:
    """Return a limit set that comes with the package, e.g. ``eu-in-service``.

    Raises
    ------
    LimitsRefused
        If there is none of this name; near matches are named.
    """
    if name not in limit_set_names():
        raise LimitsRefused(
            "unknown-limit-set",
            f"limit set {name!r}{near(name, limit_set_names())}",
            allowed=", ".join(limit_set_names()),
            todo="name one of these, or give the path of your own limit set file",
        )
    text = _FOLDER.joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return _set_of(text, file=f"{name}.toml")


def limit_set_names() -> tuple[str, ...]:
    """Return the names of the limit sets that come with the package, sorted."""
    return tuple(
        sorted(Path(item.name).stem for item in _FOLDER.iterdir() if item.name.endswith(".toml"))
    )


def read_limit_set(path: Path) -> LimitSet:
    """Return the limit set of a user's own file, in the layout of ``docs/limits.md``.

    Raises
    ------
    FileRefused
        If the file cannot be read as text.
    LimitsRefused
        If its rows are incomplete or contradict one another.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise FileRefused(
            "unreadable-limits",
            str(fault),
            allowed="a UTF-8 text file in TOML",
            todo="check the path and the encoding",
            where=Where(file=str(path)),
        ) from None
    return _set_of(text, file=str(path))


def together(sets: Iterable[LimitSet]) -> LimitSet:
    """Return several sets as one: every limit of each applies, the strictest decides.

    Raises
    ------
    LimitsRefused
        If there is no set, two hold the same identifier, or they define gauge differently.
    """
    parts = tuple(sets)
    if len(parts) == 1:
        return parts[0]
    _check_together(parts)
    gauges = [part.nominal_gauge_mm for part in parts if part.nominal_gauge_mm is not None]
    rules = [part.gauge_rule for part in parts if part.gauge_rule is not None]
    return LimitSet(
        name=" + ".join(part.name for part in parts),
        title=" + ".join(part.title for part in parts),
        caution=" ".join(part.caution for part in parts),
        rules=tuple(rule for part in parts for rule in part.rules),
        absent=tuple(row for part in parts for row in part.absent),
        class_speeds=tuple(row for part in parts for row in part.class_speeds),
        nominal_gauge_mm=gauges[0] if gauges else None,
        gauge_rule=rules[0] if rules else None,
    )


def _set_of(text: str, *, file: str) -> LimitSet:
    rows = parse_set(text, file=file)
    return LimitSet(
        name=rows.name,
        title=rows.title,
        caution=rows.caution,
        rules=rules_of(rows, file=file),
        absent=rows.absent,
        class_speeds=rows.class_speed,
        nominal_gauge_mm=rows.nominal_gauge_mm,
        gauge_rule=rows.gauge_rule,
    )


def _check_together(parts: Sequence[LimitSet]) -> None:
    if not parts:
        raise LimitsRefused(
            "no-limit-set",
            "no limit set is named",
            allowed="at least one of " + ", ".join(limit_set_names()),
            todo="name a limit set in the survey",
        )
    names = [limit.id for part in parts for limit in part]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise LimitsRefused(
            "duplicate-id",
            f"{twice[0]!r} stands in two limit sets",
            allowed="each identifier once",
            todo="rename one of them, or use only one of the sets",
        )
    rules = sorted({part.gauge_rule for part in parts if part.gauge_rule is not None})
    if len(rules) > 1:
        raise LimitsRefused(
            "two-gauge-rules",
            f"sets that define gauge as {' and as '.join(rules)}",
            allowed="sets with one definition of gauge",
            todo="use the sets of one network",
        )
