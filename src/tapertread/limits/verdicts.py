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


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit as it was applied.

    Attributes
    ----------
    id : str
        Stable identifier, e.g. ``eu-flange-thickness-min``.
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
    """

    id: str
    quantity: str
    sense: Sense
    value: float
    unit: str
    level: Literal["limit", "act", "watch"] = "limit"
    edition: str
    clause: str
    source: str
    status: str
    applies: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A word with everything it rests on; `why_not` explains a missing assessment."""

    word: Word
    measured: Measured
    limit: Limit | None = None
    why_not: str = ""
