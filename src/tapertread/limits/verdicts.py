"""The six verdict words and how a measured value meets a limit.

A value is compared together with its expanded uncertainty (k = 2): inside the band around a limit
the word is *measure again*, because the measurement cannot tell on which side it is. Limits say
whether equality is still allowed.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Literal

from tapertread.shapes.measured import Measured


class Word(enum.StrEnum):
    """Verdict words, from the calmest to the gravest; the last two say that nothing is proven."""

    SOUND = "sound"
    WATCH = "watch"
    ACT = "act"
    OUT = "out of limit"
    AGAIN = "measure again"
    NOT_ASSESSED = "not assessed"

    @property
    def gravity(self) -> int:
        """Rank for sorting: out of limit first, sound last."""
        order = (Word.OUT, Word.ACT, Word.AGAIN, Word.WATCH, Word.NOT_ASSESSED, Word.SOUND)
        return order.index(self)


Sense = Literal["min", "max", "above", "below"]
"""``min``/``max``: the limit value itself is still allowed; ``above``/``below``: it is not."""

Level = Literal["limit", "act", "watch"]

EQUALITY_TOLERANCE = 1e-9
"""Readings closer to a limit than this (inside unit) equal it: below any instrument's digit, above
the rounding of a unit conversion."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit as it was applied.

    Attributes
    ----------
    id : str
        Stable identifier, e.g. ``eu-flange-thickness-min-over-840``.
    quantity : str
        Glossary name of the measure it applies to, e.g. ``flange_thickness_mm``.
    sense : {"min", "max", "above", "below"}
        Which side is allowed, and whether equality is.
    value : float
        In `unit`.
    unit : str
        Inside unit.
    level : {"limit", "act", "watch"}
        ``limit``: beyond it the word is *out of limit*; ``act`` and ``watch`` are the user's or a
        rule of the trade's own earlier levels.
    edition, clause, source, status : str
        Where it stands; `source` is a key of `tapertread.sources`; `status` is ``VERIFIED``,
        ``MEMORY``, ``DERIVED``, ``common practice, no source`` or ``user override``.
    applies : str
        Condition of use in words.
    confidence : str
        ``high``, ``medium`` or ``low`` for a recalled value, else empty.
    stated : str
        The source's own wording and unit, where it differs from ours.
    note : str
        What a user must know before relying on it; of an override, why it was made.
    toward : Limit or None
        The limit ahead of which an ``act`` or ``watch`` level was set.
    replaces : Limit or None
        The published limit that an override stands in for.
    """

    id: str
    quantity: str
    sense: Sense
    value: float
    unit: str
    level: Level = "limit"
    edition: str
    clause: str
    source: str
    status: str
    applies: str = ""
    confidence: str = ""
    stated: str = ""
    note: str = ""
    toward: Limit | None = None
    replaces: Limit | None = None

    @property
    def is_lower(self) -> bool:
        """Whether the allowed side is above the value."""
        return self.sense in ("min", "above")

    @property
    def equality_allowed(self) -> bool:
        """Whether the limit value itself is still allowed."""
        return self.sense in ("min", "max")

    def margin(self, value: float) -> float:
        """Return the distance of a value from the limit, > 0 on the allowed side, in `unit`."""
        return value - self.value if self.is_lower else self.value - value

    def allows(self, value: float) -> bool:
        """Return whether an exactly known value is allowed; NaN never is."""
        margin = self.margin(value)
        if abs(margin) <= EQUALITY_TOLERANCE:
            return self.equality_allowed
        return margin > 0.0

    @property
    def standing(self) -> str:
        """Status with its confidence, e.g. ``MEMORY (high)``; for an override, what it replaces."""
        text = f"{self.status} ({self.confidence})" if self.confidence else self.status
        if self.replaces is None:
            return text
        looser = ", looser" if self.is_looser else ""
        return f"{text} of {self.replaces.value:g}{looser} [{self.replaces.standing}]"

    @property
    def is_looser(self) -> bool:
        """Whether an override allows values that the limit it replaces forbids."""
        return self.replaces is not None and self.replaces.margin(self.value) < 0.0

    def to_dict(self) -> dict[str, object]:
        """Return the limit as plain values for JSON."""
        return {
            "id": self.id,
            "quantity": self.quantity,
            "sense": self.sense,
            "value": self.value,
            "unit": self.unit,
            "level": self.level,
            "edition": self.edition,
            "clause": self.clause,
            "source": self.source,
            "status": self.status,
            "confidence": self.confidence,
            "standing": self.standing,
            "applies": self.applies,
            "stated": self.stated,
            "note": self.note,
            "toward": None if self.toward is None else self.toward.id,
            "replaces": None if self.replaces is None else self.replaces.to_dict(),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A word with everything it rests on.

    Attributes
    ----------
    word : Word
    measured : Measured
        What was judged.
    limit : Limit or None
        The limit or level that decided; for ``sound`` the nearest one.
    why_not : str
        Why nothing is proven, for ``not assessed`` and ``measure again``.
    """

    word: Word
    measured: Measured
    limit: Limit | None = None
    why_not: str = ""

    @property
    def margin(self) -> float | None:
        """Distance from the deciding limit, > 0 on the allowed side, in its unit."""
        if self.limit is None or self.measured.value is None:
            return None
        return self.limit.margin(self.measured.value)
