"""Conditions under which a limit applies, as data: spans of a number, lists of words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import msgspec

Known = float | str | None

CONDITIONS: dict[str, str] = {
    "diameter_mm": "the wheel diameter",
    "speed_kmh": "the speed",
    "radius_m": "the curve radius",
    "vehicle_kind": "the kind of vehicle",
    "track_class": "the track class, or the speed with the traffic (freight or passenger)",
    "traffic": "the traffic (freight or passenger)",
    "service": "the service of the locomotive (road or switching)",
    "flange_kind": "the kind of flange (narrow or wide)",
    "rail_design": "the rail section",
}
"""Name of a condition → how a person would ask for it."""

Answer = Literal["holds", "fails", "unknown"]


class Span(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The values of one condition under which a row applies.

    Attributes
    ----------
    at_least, over : float or None
        Lower end, included (``from`` in the file) or excluded.
    upto, below : float or None
        Upper end, included or excluded.
    one_of, none_of : tuple of str
        Words that apply (``is`` in the file), words that do not (``not``).
    """

    at_least: float | None = msgspec.field(default=None, name="from")
    over: float | None = None
    upto: float | None = None
    below: float | None = None
    one_of: tuple[str, ...] = msgspec.field(default=(), name="is")
    none_of: tuple[str, ...] = msgspec.field(default=(), name="not")

    @property
    def is_words(self) -> bool:
        """Whether the span is a list of words rather than a range of numbers."""
        return bool(self.one_of or self.none_of)

    def holds(self, value: float | str) -> bool:
        """Return whether a known value lies in the span; a word never lies in a range."""
        if isinstance(value, str):
            return self._holds_word(value)
        return not self.is_words and (
            (self.at_least is None or value >= self.at_least)
            and (self.over is None or value > self.over)
            and (self.upto is None or value <= self.upto)
            and (self.below is None or value < self.below)
        )

    def _holds_word(self, word: str) -> bool:
        if self.one_of:
            return word in self.one_of
        return bool(self.none_of) and word not in self.none_of


When = dict[str, Span]


def answer(when: When, known: Mapping[str, Known]) -> tuple[Answer, tuple[str, ...]]:
    """Return whether all conditions hold, and the names of those that cannot be told.

    One condition that fails decides: what is missing beside it does not matter.

    Parameters
    ----------
    when : dict of str to Span
    known : mapping
        Condition name → value, ``None`` or absent where it is not known.
    """
    missing = tuple(name for name in when if known.get(name) is None)
    for name, span in when.items():
        value = known.get(name)
        if value is not None and not span.holds(value):
            return "fails", ()
    return ("unknown", missing) if missing else ("holds", ())
