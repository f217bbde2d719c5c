"""Short words on pictures: values with their unit, names of shapes and measures."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.errors import WrongUsage
from tapertread.shapes.outline import Outline
from tapertread.study.sentences import measure_name
from tapertread.units import UnitSystem, degree_of_curve_from_radius_m, shown

Floats = NDArray[np.float64]


def measure_words(name: str) -> str:
    """Return a measure's name in words, with its side where it has one."""
    base, _, side = name.partition(".")
    try:
        words = measure_name(base)
    except WrongUsage:
        words = base.removesuffix(f"_{measure_unit(base)}").replace("_", " ")
    return f"{words}, {side}" if side else words


def measure_unit(name: str) -> str:
    """Return the inside unit of a measure, which is the ending of its name."""
    ending = name.partition(".")[0].rsplit("_", 1)[-1]
    return ending if ending in ("mm", "deg", "percent", "mrad", "kmh", "kn", "m", "km") else ""


def with_unit(words: str, unit: str, system: UnitSystem) -> str:
    """Return an axis label such as ``cant, mm`` in the units shown."""
    label = shown(unit, system).unit
    return f"{words}, {label}" if label else words


def in_shown(values: ArrayLike, unit: str, system: UnitSystem) -> Floats:
    """Return values of an inside unit in the unit shown."""
    return np.asarray(values, dtype=np.float64) * shown(unit, system).factor


def mm_text(value: float, system: UnitSystem, *, digits: int | None = None) -> str:
    """Return a length in mm as text in the units shown, with a true minus sign."""
    how = shown("mm", system)
    places = how.digits if digits is None else digits + (how.digits - 2)
    return f"{value * how.factor:.{places}f} {how.unit}".replace("-", "−")


def shape_text(outline: Outline) -> str:
    """Return the name of a shape with the mark of a doubtful one."""
    return outline.origin.label


def plain_range(values: Iterable[float], digits: int = 2) -> str:
    """Return ``a to b`` of the finite values, or ``no value``."""
    finite = [v for v in values if np.isfinite(v)]
    if not finite:
        return "no value"
    return f"{min(finite):.{digits}f} to {max(finite):.{digits}f}".replace("-", "−")


def curve_words(curvature_per_km: float, system: UnitSystem) -> str:
    """Return a curve's size as people name it: ``300 m`` or ``5.8°``; straight is empty."""
    if abs(curvature_per_km) < 1e-9:
        return ""
    radius = 1000.0 / abs(curvature_per_km)
    if system == "us":
        return f"{degree_of_curve_from_radius_m(radius):.1f}°"
    return f"{radius:.0f} m"
