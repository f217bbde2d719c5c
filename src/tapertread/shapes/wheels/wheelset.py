"""Measures of a whole wheelset: what two outlines and a few given numbers say together.

Active flange spacing is the back-to-back distance with both flange thicknesses [tsi-locpas-2014;
recalled]. The diameter of a wheel is not in its outline: without it nothing is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from tapertread.shapes.measured import Measured, Measures
from tapertread.shapes.traps import Trap

NOT_GIVEN = "{what} was not measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A number measured apart from outlines, mm, with its standard uncertainty where stated."""

    value_mm: float | None = None
    uncertainty_mm: float | None = None

    def measured(self, what: str) -> Measured:
        """Return it as a measured value, or missing with the reason."""
        if self.value_mm is None:
            return Measured.missing("mm", NOT_GIVEN.format(what=what))
        if self.uncertainty_mm is None:
            return Measured(value=self.value_mm, unit="mm", reason="given without its uncertainty")
        return Measured.of(self.value_mm, "mm", given=self.uncertainty_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelsetMeasures(Measures):
    """Measures of one wheelset.

    Attributes
    ----------
    diameter_difference_mm : Measured
        Size of the difference; `notes` say which side is larger.
    back_to_back_mm, active_flange_spacing_mm : Measured
    notes : tuple of str
    """

    diameter_difference_mm: Measured
    back_to_back_mm: Measured
    active_flange_spacing_mm: Measured


def gauge_wheelset(
    *,
    thicknesses: tuple[Measured, Measured],
    diameters: tuple[Given, Given],
    back_to_back: Given,
    traps: Iterable[Trap] = (),
) -> WheelsetMeasures:
    """Return the measures of a wheelset; pairs are left, right.

    Parameters
    ----------
    thicknesses : tuple of Measured
        Flange thickness of both wheels, mm.
    diameters : tuple of Given
        At the tape line, mm.
    back_to_back : Given
        Between the flange backs, mm.
    traps : iterable of Trap
        Of both outlines: a worn flange back makes the back-to-back reading unsure by its size.
    """
    worn_back = [
        trap.size_mm
        for trap in traps
        if trap.name == "flange-back-worn" and trap.size_mm is not None
    ]
    unsure = math.hypot(*worn_back) / math.sqrt(3.0) if worn_back else 0.0
    between = back_to_back.measured("back-to-back distance")
    if unsure:
        between = between.widened(trap=unsure)
    difference, note = _difference(diameters)
    return WheelsetMeasures(
        diameter_difference_mm=difference,
        back_to_back_mm=between,
        active_flange_spacing_mm=_sum((between, *thicknesses)),
        notes=tuple(one for one in (note,) if one),
    )


def _difference(diameters: tuple[Given, Given]) -> tuple[Measured, str]:
    left, right = (one.measured("the diameter of a wheel") for one in diameters)
    if left.value is None or right.value is None:
        return Measured.missing("mm", left.reason if left.value is None else right.reason), ""
    difference = right.value - left.value
    side = "right" if difference > 0.0 else "left"
    note = f"the {side} wheel is larger by {abs(difference):.2f} mm" if difference else ""
    if left.uncertainty is None or right.uncertainty is None:
        unsure = "a diameter was given without its uncertainty"
        return Measured(value=abs(difference), unit="mm", reason=unsure), note
    given = math.hypot(left.uncertainty, right.uncertainty)
    return Measured.of(abs(difference), "mm", given=given), note


def _sum(terms: tuple[Measured, ...]) -> Measured:
    """Return the sum of measured values, missing where one is, unsure where one does not say."""
    for one in terms:
        if one.value is None:
            return Measured.missing("mm", one.reason)
    total = sum(one.value for one in terms if one.value is not None)
    reasons = [one.reason for one in terms if one.uncertainty is None]
    if reasons:
        return Measured(value=total, unit="mm", reason=reasons[0])
    parts: dict[str, float] = {}
    for one in terms:
        for cause, part in one.parts:
            parts[cause] = math.hypot(parts.get(cause, 0.0), part)
    return Measured.of(total, "mm", **parts)
