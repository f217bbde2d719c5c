"""Option values that are more than numbers: lengths with their unit, inclinations, curves."""

from __future__ import annotations

import math
import re

import click

from tapertread.errors import RefusedInput
from tapertread.railway.inclination import STEEPEST_RUN, inclination_slope
from tapertread.units import FACTORS, to_inside

_LENGTH = re.compile(r"\s*([-+]?[0-9.]+(?:e[-+]?[0-9]+)?)\s*(mm|cm|in|m)?\s*", re.IGNORECASE)
_MM_PER = {"mm": 1.0, "m": 1000.0}


class LengthType(click.ParamType[float]):
    """A length in mm: ``1435``, ``1435mm``, ``56.5in``, ``1.435m``."""

    name = "length"

    def __init__(self, *, positive: bool = True) -> None:
        self.positive = positive

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the length in mm."""
        if isinstance(value, int | float):
            return float(value)
        length = _length_mm(str(value))
        if length is None or not math.isfinite(length):
            self.fail(f"{value!r} is no length such as 1435, 56.5in or 1.435m.", param, ctx)
        if self.positive and length <= 0.0:
            self.fail(f"{value!r} is not above zero.", param, ctx)
        return length


def _length_mm(text: str) -> float | None:
    found = _LENGTH.fullmatch(text)
    if found is None:
        return None
    try:
        number = float(found[1])
    except ValueError:
        return None
    unit = (found[2] or "mm").lower()
    return to_inside(number, unit) * _MM_PER[FACTORS[unit][0]]


class InclinationType(click.ParamType[float]):
    """A rail's lean toward the track centre as a slope: ``1:40``, ``0.025``, ``0``, ``upright``."""

    name = "inclination"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the slope, > 0 toward the track centre."""
        if isinstance(value, float):
            return value
        try:
            slope = float(str(value))
        except ValueError:
            return self._written(str(value), param, ctx)
        if not abs(slope) <= 1.0 / STEEPEST_RUN:
            self.fail(
                f"{value!r} as a slope is steeper than 1:{STEEPEST_RUN:g}; write a ratio such as "
                "1:40, a slope such as 0.025, or 0 for upright rails.",
                param,
                ctx,
            )
        return slope

    def _written(
        self, text: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        try:
            return inclination_slope(text)
        except RefusedInput as refused:
            self.fail(f"{refused.found}: use {refused.allowed}, 0.025 or 0.", param, ctx)


class FiniteType(click.ParamType[float]):
    """A number that is neither NaN nor infinite."""

    name = "number"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number."""
        try:
            number = float(str(value))
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            self.fail(f"{value!r} is no finite number.", param, ctx)
        return number


LENGTH_MM = LengthType()
INCLINATION = InclinationType()
FINITE = FiniteType()
