"""A measured value: what it is, how sure it is, or why there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

COVERAGE_FACTOR = 2.0
"""k of the expanded uncertainty that verdicts use (about 95 %)."""

NINETY_PERCENT_FACTOR = 1.6448536269514722
"""k of the central 90 % interval of a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A value with its standard uncertainty, or ``None`` with the reason.

    Attributes
    ----------
    value : float or None
        In `unit`.
    uncertainty : float or None
        Standard (k = 1) uncertainty, combined from `parts`, in `unit`.
    unit : str
        Inside unit: ``mm``, ``deg``, ``percent``, ``mm2``, ``""`` …
    parts : tuple of (str, float)
        Standard uncertainties by cause: ``noise``, ``datum``, ``sampling``, ``repeatability``.
    reason : str
        Why there is no value; empty where there is one.
    """

    value: float | None
    unit: str
    uncertainty: float | None = None
    parts: tuple[tuple[str, float], ...] = ()
    reason: str = ""

    @classmethod
    def of(cls, value: float, unit: str, **parts: float) -> Measured:
        """Return a value whose standard uncertainty is the root sum of squares of its parts."""
        total = math.sqrt(sum(part * part for part in parts.values()))
        return cls(value=value, unit=unit, uncertainty=total, parts=tuple(parts.items()))

    @classmethod
    def missing(cls, unit: str, reason: str) -> Measured:
        """Return a missing value with the reason why."""
        return cls(value=None, unit=unit, reason=reason)

    def widened(self, **parts: float) -> Measured:
        """Return the value with further causes of uncertainty added (standard, same unit)."""
        if self.value is None:
            return self
        merged = dict(self.parts)
        for cause, part in parts.items():
            merged[cause] = math.hypot(merged.get(cause, 0.0), part)
        return replace(Measured.of(self.value, self.unit, **merged), reason=self.reason)

    @property
    def expanded(self) -> float | None:
        """Expanded uncertainty (k = 2), in `unit`."""
        return None if self.uncertainty is None else COVERAGE_FACTOR * self.uncertainty

    def interval_90(self) -> tuple[float, float] | None:
        """Return the central 90 % interval, or ``None`` where there is no value."""
        if self.value is None or self.uncertainty is None:
            return None
        half = NINETY_PERCENT_FACTOR * self.uncertainty
        return self.value - half, self.value + half

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON."""
        return {
            "value": self.value,
            "unit": self.unit,
            "uncertainty": self.uncertainty,
            "parts": dict(self.parts),
            "reason": self.reason,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """Measures of one thing, each a field of its own in the records that add to this one.

    Attributes
    ----------
    notes : tuple of str
        What a reader of the values must know.
    """

    notes: tuple[str, ...] = ()

    def measured(self) -> dict[str, Measured]:
        """Return every measure by its name."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "notes"}

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON: values by name, uncertainties, and notes with reasons."""
        every = self.measured()
        reasons = [f"{name}: {one.reason}" for name, one in every.items() if one.reason]
        return {
            **{name: one.value for name, one in every.items()},
            "measured": {name: one.to_dict() for name, one in every.items()},
            "notes": [*self.notes, *reasons],
        }
