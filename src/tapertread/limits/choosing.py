"""A limit set, and the limits chosen from it by quantity and conditions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import overload

from tapertread.errors import LimitsRefused, WrongUsage
from tapertread.limits.conditions import CONDITIONS, Known, answer
from tapertread.limits.rows import AbsentRow, ClassSpeedRow
from tapertread.limits.rules import Rule, level_value
from tapertread.limits.verdicts import EQUALITY_TOLERANCE, Level, Limit
from tapertread.units import KMH_PER_MPH


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Sequence[Limit]):
    """The limits and levels chosen for one quantity; a sequence of them.

    Attributes
    ----------
    quantity : str
        Glossary name.
    limits : tuple of Limit
        Those that apply.
    needs : tuple of str
        Conditions that are not known and on which further limits hang.
    open_levels : tuple of {"limit", "act", "watch"}
        Levels of those further limits.
    absent : str
        Why the set has no limit, where it says so.
    """

    quantity: str
    limits: tuple[Limit, ...] = ()
    needs: tuple[str, ...] = ()
    open_levels: tuple[Level, ...] = ()
    absent: str = ""

    @overload
    def __getitem__(self, index: int) -> Limit: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Limit, ...]: ...
    def __getitem__(self, index: int | slice) -> Limit | tuple[Limit, ...]:
        return self.limits[index]

    def __len__(self) -> int:
        return len(self.limits)

    @property
    def why_not(self) -> str:
        """Why the quantity cannot be judged in full; empty where it can."""
        if self.needs:
            return f"needs {' and '.join(CONDITIONS[name] for name in self.needs)}"
        if self.limits:
            return ""
        return self.absent or f"the limit sets in use have no limit for {self.quantity}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSet:
    """Limits with their conditions, from one file or several together.

    Attributes
    ----------
    name, title, caution : str
        Joined by ``+`` where several files are together.
    rules : tuple of Rule
        Limits, act and watch levels.
    absent : tuple of AbsentRow
        Why a quantity has none.
    class_speeds : tuple of ClassSpeedRow
        Highest speeds by track class, where the set knows classes.
    nominal_gauge_mm : float or None
    gauge_rule : str or None
        How the set defines gauge, as in `contact.records`.
    """

    name: str
    title: str
    caution: str
    rules: tuple[Rule, ...]
    absent: tuple[AbsentRow, ...] = ()
    class_speeds: tuple[ClassSpeedRow, ...] = ()
    nominal_gauge_mm: float | None = None
    gauge_rule: str | None = None

    def __iter__(self) -> Iterator[Limit]:
        """Go through every limit and level."""
        return (rule.limit for rule in self.rules)

    @property
    def quantities(self) -> tuple[str, ...]:
        """Quantities with at least one limit or level, in the order of the file."""
        return tuple(dict.fromkeys(limit.quantity for limit in self))

    def limit(self, name: str) -> Limit:
        """Return the limit or level of an identifier.

        Raises
        ------
        LimitsRefused
            If there is none; near matches are named.
        """
        for limit in self:
            if limit.id == name:
                return limit
        raise unknown_limit(name, [limit.id for limit in self])

    def for_quantity(
        self, quantity: str, *, new_value: float | None = None, **conditions: Known
    ) -> Choice:
        """Return the limits and levels of a quantity under the conditions given.

        Parameters
        ----------
        quantity : str
            Glossary name.
        new_value : float or None
            Value of the quantity on this design when new, in its unit; levels set as a share of
            the way to the limit then start from it.
        **conditions
            Any of `CONDITIONS`: ``diameter_mm``, ``speed_kmh``, ``radius_m`` (either sign),
            ``vehicle_kind``, ``track_class``, ``traffic``, ``service``, ``flange_kind``,
            ``rail_design``. What is not known stays ``None``: limits that hang on it are named in
            `Choice.needs`, never guessed.

        Raises
        ------
        WrongUsage
            If a condition has an unknown name.
        """
        known = self._known(conditions)
        chosen: list[Limit] = []
        needs: dict[str, None] = {}
        open_levels: dict[Level, None] = {}
        for rule in self.rules:
            if rule.limit.quantity != quantity:
                continue
            told, missing = answer(rule.when, known)
            if told == "unknown":
                needs.update(dict.fromkeys(missing))
                open_levels[rule.limit.level] = None
            if told == "holds":
                chosen.extend(_from_new(rule, new_value))
        return Choice(
            quantity=quantity,
            limits=tuple(chosen),
            needs=tuple(needs),
            open_levels=tuple(open_levels),
            absent=self._why_absent(quantity, known),
        )

    def track_class(self, speed_kmh: float, *, traffic: str) -> str | None:
        """Return the lowest track class whose top speed allows the speed (km/h) of a traffic.

        The limit speed itself is allowed [cfr-213, 213.9]; ``None`` above the highest class held.

        Raises
        ------
        WrongUsage
            If `traffic` is neither ``freight`` nor ``passenger``.
        """
        if traffic not in ("freight", "passenger"):
            raise WrongUsage(f"traffic {traffic!r}: freight or passenger")
        for row in self.class_speeds:
            top_mph = row.freight_mph if traffic == "freight" else row.passenger_mph
            if row.track_class == "excepted" or top_mph is None:
                continue
            if speed_kmh <= top_mph * KMH_PER_MPH + EQUALITY_TOLERANCE:
                return row.track_class
        return None

    def _known(self, conditions: Mapping[str, Known]) -> dict[str, Known]:
        for name in conditions:
            if name not in CONDITIONS:
                raise WrongUsage(f"unknown condition {name!r}{near(name, CONDITIONS)}")
        known = dict(conditions)
        radius, speed = known.get("radius_m"), known.get("speed_kmh")
        if isinstance(radius, float | int):
            known["radius_m"] = abs(radius)
        traffic = known.get("traffic")
        class_follows = known.get("track_class") is None and bool(self.class_speeds)
        if class_follows and isinstance(speed, float | int) and isinstance(traffic, str):
            known["track_class"] = self.track_class(speed, traffic=traffic)
        return known

    def _why_absent(self, quantity: str, known: Mapping[str, Known]) -> str:
        reasons = (
            row.why
            for row in self.absent
            if row.quantity == quantity and answer(row.when, known)[0] == "holds"
        )
        return next(reasons, "")


def unknown_limit(name: str, known: Sequence[str]) -> LimitsRefused:
    """Return the refusal of an identifier that no set in use holds, with near matches."""
    return LimitsRefused(
        "unknown-limit",
        f"limit {name!r}{near(name, known)}",
        allowed="an identifier of the limit sets in use, listed in docs/limits.md",
        todo="correct the identifier, or add the limit set that holds it",
    )


def _from_new(rule: Rule, new_value: float | None) -> tuple[Limit, ...]:
    """Return the rule's limit; a level by share starts from the design's own new value.

    A design that is already beyond the limit when new has no level ahead of it.
    """
    toward = rule.limit.toward
    if new_value is None or rule.share is None or toward is None:
        return (rule.limit,)
    if toward.margin(new_value) <= 0.0:
        return ()
    value = level_value(toward, share=rule.share, new=new_value)
    note = f"{rule.share:.0%} of the way from new ({new_value:g} {toward.unit}) to the limit"
    return (replace(rule.limit, value=value, note=note),)


def near(name: str, known: Iterable[str]) -> str:
    """Return `` (did you mean …?)`` with the nearest known names, empty where none is near."""
    matches = get_close_matches(name, list(known), n=3, cutoff=0.5)
    return f" (did you mean {', '.join(matches)}?)" if matches else ""
