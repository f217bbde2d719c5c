"""Conversion at the edges: metric and US customary.

Inside, profiles are in mm, route and motion in SI. Only readers, commands and pages convert.
Factors are exact by definition (international inch and pound of 1959); the degree of curve is the
angle subtended by a 100 ft chord, so that the radius is 50 ft / sin(D/2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np

MM_PER_INCH = 25.4
M_PER_FOOT = 0.3048
M_PER_MILE = 1609.344
KMH_PER_MPH = 1.609344
N_PER_LBF = 4.4482216152605
KG_PER_LB = 0.45359237
KG_PER_SHORT_TON = 907.18474
KG_PER_LONG_TON = 1016.0469088

UnitSystem = Literal["metric", "us"]

_Number = TypeVar("_Number", float, "np.ndarray[tuple[int, ...], np.dtype[np.float64]]")

FACTORS: dict[str, tuple[str, float]] = {
    "mm": ("mm", 1.0),
    "um": ("mm", 1e-3),
    "cm": ("mm", 10.0),
    "in": ("mm", MM_PER_INCH),
    "m": ("m", 1.0),
    "ft": ("m", M_PER_FOOT),
    "km": ("km", 1.0),
    "mi": ("km", M_PER_MILE / 1000.0),
    "kmh": ("kmh", 1.0),
    "mph": ("kmh", KMH_PER_MPH),
    "kn": ("kn", 1.0),
    "kip": ("kn", N_PER_LBF),
    "kg": ("kg", 1.0),
    "lb": ("kg", KG_PER_LB),
    "mt": ("mt", 1.0),
    "mgt": ("mt", KG_PER_SHORT_TON / 1000.0),
    "deg": ("deg", 1.0),
    "mrad": ("mrad", 1.0),
}
"""Unit suffix of a column or key → (suffix it becomes inside, factor). ``mt`` is million tonnes,
``mgt`` million gross short tons."""


def to_inside(value: _Number, unit: str) -> _Number:
    """Convert a value from a unit suffix of `FACTORS` to the one used inside.

    Raises
    ------
    KeyError
        If the suffix is unknown.
    """
    return value * FACTORS[unit][1]


def radius_m_from_degree_of_curve(degree: float) -> float:
    """Return the curve radius (m) of a degree of curve by the 100 ft chord; sign kept, 0 → inf.

    Raises
    ------
    ValueError
        If the degree is beyond ±180, where no chord fits.
    """
    if degree == 0.0:
        return math.inf
    if abs(degree) > 180.0:
        raise ValueError(f"degree of curve {degree} is beyond ±180")
    return 50.0 * M_PER_FOOT / math.sin(math.radians(degree) / 2.0)


def degree_of_curve_from_radius_m(radius_m: float) -> float:
    """Return the degree of curve by the 100 ft chord of a radius (m); sign kept, inf → 0.

    Raises
    ------
    ValueError
        If the radius is below 50 ft.
    """
    if math.isinf(radius_m):
        return 0.0
    half_chord = 50.0 * M_PER_FOOT
    if abs(radius_m) < half_chord:
        raise ValueError(f"radius {radius_m} m is shorter than half the 100 ft chord")
    return math.degrees(2.0 * math.asin(half_chord / radius_m))


@dataclass(frozen=True, slots=True)
class Shown:
    """How one kind of quantity is shown to a person."""

    unit: str
    factor: float
    digits: int


_SHOWN: dict[UnitSystem, dict[str, Shown]] = {
    "metric": {
        "mm": Shown("mm", 1.0, 2),
        "m": Shown("m", 1.0, 0),
        "km": Shown("km", 1.0, 3),
        "kmh": Shown("km/h", 1.0, 0),
        "kn": Shown("kN", 1.0, 1),
        "deg": Shown("°", 1.0, 1),
        "mrad": Shown("mrad", 1.0, 2),
        "percent": Shown("%", 1.0, 1),
        "": Shown("", 1.0, 3),
        "mt": Shown("million t", 1.0, 1),
        "mm2": Shown("mm²", 1.0, 0),
        "hz": Shown("Hz", 1.0, 2),
    },
    "us": {
        "mm": Shown("in", 1.0 / MM_PER_INCH, 3),
        "m": Shown("ft", 1.0 / M_PER_FOOT, 0),
        "km": Shown("mi", 1000.0 / M_PER_MILE, 3),
        "kmh": Shown("mph", 1.0 / KMH_PER_MPH, 0),
        "kn": Shown("kip", 1.0 / N_PER_LBF, 1),
        "deg": Shown("°", 1.0, 1),
        "mrad": Shown("mrad", 1.0, 2),
        "percent": Shown("%", 1.0, 1),
        "": Shown("", 1.0, 3),
        "mt": Shown("MGT", 1000.0 / KG_PER_SHORT_TON, 1),
        "mm2": Shown("in²", 1.0 / MM_PER_INCH**2, 2),
        "hz": Shown("Hz", 1.0, 2),
    },
}


def shown(unit: str, system: UnitSystem = "metric") -> Shown:
    """Return unit label, factor and digits with which an inside unit is shown in a system.

    Raises
    ------
    KeyError
        If the inside unit is unknown.
    """
    return _SHOWN[system][unit]


def quantity(value: float, unit: str, *, system: UnitSystem = "metric") -> str:
    """Return a value given in an inside unit as text for a person, e.g. ``28.00 mm``."""
    how = shown(unit, system)
    space = "" if how.unit in ("", "°") else " "
    return f"{value * how.factor:.{how.digits}f}{space}{how.unit}"


def curve_text(radius_m: float, *, system: UnitSystem = "metric") -> str:
    """Return a curve as a person names it: ``350 m right``, ``5.0° left`` or ``straight``."""
    if math.isinf(radius_m):
        return "straight"
    hand = "right" if radius_m > 0.0 else "left"
    if system == "us":
        return f"{abs(degree_of_curve_from_radius_m(radius_m)):.1f}° {hand}"
    return f"{abs(radius_m):.0f} m {hand}"
