"""Kilometres that drift between campaigns: how far one sequence of sections lies off another.

The same line measured twice shows the same pattern of wear along it, deeper by some amount. The
shift that makes both patterns most alike is the drift of the kilometres. Offset and growth of the
wear do not matter, since only the correlation is looked at [derived].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from tapertread.shapes.outline import Floats

LEAST_SECTIONS = 12
LEAST_OVERLAP = 0.5
ALIKE = 0.6
RIVAL_WITHIN = 2.0
"""Another peak whose log likelihood comes within this of the best leaves the shift undecided."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KilometreDrift:
    """How far the kilometres of a second campaign lie off those of the first.

    Attributes
    ----------
    shift_km : float or None
        To be taken off the second campaign's kilometres; ``None`` with a `reason`.
    uncertainty_km : float or None
        Standard uncertainty, km.
    agreement : float
        Correlation of both patterns at the shift, -1..1.
    reason : str
        Why no shift is given.
    """

    shift_km: float | None
    uncertainty_km: float | None
    agreement: float
    reason: str = ""


def kilometre_drift(
    km_a: ArrayLike,
    measure_a: ArrayLike,
    *,
    km_b: ArrayLike,
    measure_b: ArrayLike,
    largest_km: float = 0.5,
) -> KilometreDrift:
    """Return by how much the kilometres of campaign b lie off those of campaign a.

    Parameters
    ----------
    km_a, km_b : array_like, shape (n,) and (m,)
        Kilometres of the sections, in any order.
    measure_a, measure_b : array_like, shape (n,) and (m,)
        The same measure of the same rail in both campaigns.
    largest_km : float
        Largest shift thought possible, km.
    """
    first = _sorted(km_a, measure_a)
    second = _sorted(km_b, measure_b)
    if min(first[0].size, second[0].size) < LEAST_SECTIONS:
        return _none(0.0, f"fewer than {LEAST_SECTIONS} sections in one campaign")
    spacing = float(min(np.median(np.diff(first[0])), np.median(np.diff(second[0]))))
    if spacing <= 0.0:
        return _none(0.0, "several sections at one kilometre: state line and track apart")
    shifts = np.arange(-largest_km, largest_km + 0.05 * spacing, 0.1 * spacing)
    alike = np.array([_alike(first, second, shift) for shift in shifts])
    best = int(np.nanargmax(np.where(np.isfinite(alike), alike, -2.0)))
    agreement = float(alike[best])
    if not agreement >= ALIKE:
        return _none(agreement, "the patterns of the campaigns are not alike at any shift")
    if best in (0, shifts.size - 1):
        return _none(agreement, "the best shift lies at the end of what was thought possible")
    return _settled(shifts, alike, best, sections=first[0].size)


def _sorted(km: ArrayLike, measure: ArrayLike) -> tuple[Floats, Floats]:
    """Return the sections that carry a number, by rising kilometre."""
    km, measure = np.asarray(km, dtype=np.float64), np.asarray(measure, dtype=np.float64)
    if km.shape != measure.shape or km.ndim != 1:
        raise ValueError(f"{km.shape} kilometres for {measure.shape} measures")
    known = np.isfinite(km) & np.isfinite(measure)
    order = np.argsort(km[known], kind="stable")
    return km[known][order], measure[known][order]


def _alike(first: tuple[Floats, Floats], second: tuple[Floats, Floats], shift_km: float) -> float:
    """Return the correlation where both overlap after a shift of the second; NaN for too little."""
    km = second[0] - shift_km
    inside = (first[0] >= km[0]) & (first[0] <= km[-1])
    if inside.sum() < max(LEAST_SECTIONS, LEAST_OVERLAP * first[0].size):
        return math.nan
    a = first[1][inside]
    b = np.interp(first[0][inside], km, second[1])
    spread = float(np.std(a) * np.std(b))
    return float(np.mean((a - a.mean()) * (b - b.mean()))) / spread if spread > 0.0 else math.nan


def _settled(shifts: Floats, alike: Floats, best: int, *, sections: int) -> KilometreDrift:
    """Return the shift refined by a parabola through the log likelihood at its peak."""
    likely = -0.5 * sections * np.log(np.maximum(1.0 - alike * np.abs(alike), 1e-9))
    agreement, step = float(alike[best]), float(shifts[1] - shifts[0])
    far = np.abs(shifts - shifts[best]) > 10.0 * step
    rival = np.max(np.where(far & np.isfinite(likely), likely, -np.inf))
    if likely[best] - rival < RIVAL_WITHIN:
        return _none(agreement, "another shift makes the patterns as alike: they repeat themselves")
    around = np.arange(max(0, best - 5), min(shifts.size, best + 6))
    around = around[np.isfinite(likely[around])]
    bend, slope, _ = np.polyfit(shifts[around] - shifts[best], likely[around], 2)
    if bend >= 0.0:
        return _none(agreement, "the likeness has no peak")
    offset = float(np.clip(-0.5 * slope / bend, -5.0 * step, 5.0 * step))
    return KilometreDrift(
        shift_km=float(shifts[best]) + offset,
        uncertainty_km=math.hypot(math.sqrt(-0.5 / bend), step),
        agreement=agreement,
    )


def _none(agreement: float, reason: str) -> KilometreDrift:
    return KilometreDrift(shift_km=None, uncertainty_km=None, agreement=agreement, reason=reason)
