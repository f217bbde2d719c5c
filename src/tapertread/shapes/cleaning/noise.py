"""How noisy an outline is, and what that noise does to whatever is read from it.

Devices leave noise that hangs together over 2 to 5 mm of arc, so that smoothing or averaging over
less does not remove it. It is estimated along the normal where the shape is nearly straight: runs
of 30 mm, freed from any fifth-degree polynomial (that is shape), are compared with what noise of
several correlation lengths would leave of itself in waves down to 3.2 mm (restricted likelihood;
shorter waves hardly touch a reading, and how fast noise dies out there differs by device). No
single length is chosen; each counts as much as it is likely, which keeps the covariance steady from
one outline to the next. Where a drawing's own arcs meet with a jump of curvature, what a polynomial
cannot follow counts as noise: 0.013 mm on a new 60E1. A reading that is a weighted sum ``w`` of
points carries ``sqrt(w' C w)``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.outline import Floats

Fall = Literal["exponential", "gaussian"]

RUN_MM = 30.0
POLYNOMIAL_DEGREE = 5
SHORTEST_WAVE_MM = 3.2
MOST_RATIO = 4.0
"""Runs that are rougher than the calmest by more than chance allows (F of 12 and 12 at 1 %) hold
shape, not noise, and are left out."""

LENGTHS_MM = (0.5, 1.0, 1.5, 2.0, 2.7, 3.5, 4.5, 5.5)
"""Lengths over which the correlation falls to 1/e, whatever its kind of fall."""

WHITE_SHARES = (1e-5, 0.003, 0.2, 0.6)
"""Share of the variance that is white; even the smoothest device leaves a trace."""

USUAL_LENGTH_MM, USUAL_SPREAD = 3.0, 0.5
"""Noise of profile devices hangs together over 2 to 5 mm: middle and spread (of the logarithm) of
what is believed before an outline is seen [trade-practice]."""

LEAST_SHARE = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class NoisePart:
    """One part of the noise: its variance (mm²) and how its correlation falls with distance.

    ``rho(d) = exp(-d/L)`` (exponential) or ``exp(-d²/2L²)`` (gaussian); length 0 is white.
    """

    variance_mm2: float
    length_mm: float = 0.0
    fall: Fall = "exponential"


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """Noise of an outline along its normal, as a sum of independent parts; none means silent."""

    parts: tuple[NoisePart, ...] = ()

    @property
    def sigma_mm(self) -> float:
        """Standard deviation of one point, mm."""
        return math.sqrt(sum(part.variance_mm2 for part in self.parts))

    @property
    def correlation_mm(self) -> float:
        """Distance over which the correlation falls to 1/e, mm; 0 for white or silent noise."""
        if not self.parts:
            return 0.0
        at = np.arange(0.0, 20.0, 0.1)
        below = np.flatnonzero(self.covariance(at) < self.sigma_mm**2 / math.e)
        return float(at[below[0]]) if below.size and below[0] > 1 else 0.0

    def covariance(self, distance_mm: Floats) -> Floats:
        """Return the covariance (mm²) of two points at distances along the arc (mm), any shape."""
        total = np.zeros(np.shape(distance_mm))
        for part in self.parts:
            total += part.variance_mm2 * correlation(
                distance_mm, length_mm=part.length_mm, fall=part.fall
            )
        return total

    def of_reading(self, weights: Floats, *, step_mm: float) -> float:
        """Return the standard deviation (mm) of a weighted sum of points `step_mm` apart."""
        overlap = np.correlate(weights, weights, mode="full")[weights.size - 1 :]
        share = self.covariance(step_mm * np.arange(weights.size, dtype=np.float64))
        return math.sqrt(max(0.0, float(share[0] * overlap[0] + 2.0 * share[1:] @ overlap[1:])))


def correlation(distance_mm: Floats, *, length_mm: float, fall: Fall) -> Floats:
    """Return the correlation coefficient at distances (mm); length 0 leaves only the point."""
    distance = np.abs(distance_mm)
    if length_mm <= 0.0:
        return np.where(distance < 1e-9, 1.0, 0.0)
    share = distance / length_mm
    return np.asarray(np.exp(-share) if fall == "exponential" else np.exp(-0.5 * share * share))


def estimate_noise(points: Floats, *, quiet: NDArray[np.bool_], step_mm: float) -> Noise:
    """Estimate the noise along the normal from points at even steps of arc.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Points of the curve, mm, with its shape still in them.
    quiet : ndarray of bool, shape (n,)
        Where the outline is measured and nearly straight.
    step_mm : float
        Step of arc, mm; no finer than the points were measured.

    Returns
    -------
    Noise
        Silent where no run of 30 mm is quiet, or where nothing but shape is left.
    """
    size = round(RUN_MM / step_mm)
    runs = _quiet_runs(points, quiet=quiet, size=size)
    if not runs.size or size <= 2.0 * RUN_MM / SHORTEST_WAVE_MM:
        return Noise()
    models = _models(size, step_mm)
    contrasts = runs @ models.contrast.T
    leftover = np.einsum("rc,mcd,rd->mr", contrasts, models.precision, contrasts, optimize=True)
    typical = np.median(leftover, axis=0)
    shaped = typical > MOST_RATIO * typical.min()
    leftover, count = leftover[:, ~shaped].sum(axis=1), int((~shaped).sum())
    variance = leftover / (count * contrasts.shape[1])
    if variance.min() <= 1e-14:
        return Noise()
    likelihood = models.log_prior - 0.5 * count * (
        models.log_determinant + contrasts.shape[1] * np.log(variance)
    )
    share = np.exp(likelihood - likelihood.max())
    return _mixture(models, share / share.sum() * variance)


def _quiet_runs(points: Floats, *, quiet: NDArray[np.bool_], size: int) -> Floats:
    """Return heights over the chord of the quiet runs that do not overlap, shape (runs, size)."""
    runs, at = [], 0
    while at + size <= points.shape[0]:
        loud = np.flatnonzero(~quiet[at : at + size])
        if loud.size:
            at += int(loud[-1]) + 1
        else:
            runs.append(_heights(points[at : at + size]))
            at += size
    return np.array(runs)


def _heights(points: Floats) -> Floats:
    chord = points[-1] - points[0]
    rest = points - points[0]
    across = chord[0] * rest[:, 1] - chord[1] * rest[:, 0]
    return np.asarray(across / max(float(np.hypot(*chord)), 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Models:
    contrast: Floats
    precision: Floats
    log_determinant: Floats
    log_prior: Floats
    parts: tuple[tuple[NoisePart, ...], ...]


@lru_cache(maxsize=16)
def _models(size: int, step_mm: float) -> _Models:
    """Prepare, once per run size, the contrasts free of shape and every noise model's precision."""
    at = np.linspace(-1.0, 1.0, size)
    waves = np.arange(POLYNOMIAL_DEGREE + 1, 2.0 * RUN_MM / SHORTEST_WAVE_MM)
    columns = [
        np.vander(at, POLYNOMIAL_DEGREE + 1),
        np.cos(0.5 * np.pi * np.outer(at + 1.0, waves)),
    ]
    contrast = np.linalg.qr(np.hstack(columns))[0][:, POLYNOMIAL_DEGREE + 1 :].T
    distance = step_mm * np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
    precisions, determinants = [], []
    every = _candidates()
    for parts in every:
        spread = contrast @ Noise(parts=parts).covariance(distance) @ contrast.T
        precisions.append(np.linalg.inv(spread))
        determinants.append(np.linalg.slogdet(spread)[1])
    return _Models(
        contrast=contrast,
        precision=np.array(precisions),
        log_determinant=np.array(determinants),
        log_prior=np.array([_log_prior(parts[-1].length_mm) for parts in every]),
        parts=every,
    )


def _log_prior(length_mm: float) -> float:
    if length_mm <= 0.0:
        return 0.0
    return -0.5 * (math.log(length_mm / USUAL_LENGTH_MM) / USUAL_SPREAD) ** 2


def _candidates() -> tuple[tuple[NoisePart, ...], ...]:
    """Return the noise models of unit variance that are weighed against one another."""
    falls: tuple[tuple[Fall, float], ...] = (("exponential", 1.0), ("gaussian", math.sqrt(0.5)))
    return (
        (NoisePart(variance_mm2=1.0),),
        *(
            (
                NoisePart(variance_mm2=white),
                NoisePart(variance_mm2=1.0 - white, length_mm=length * per_fall, fall=fall),
            )
            for fall, per_fall in falls
            for length in LENGTHS_MM
            for white in WHITE_SHARES
        ),
    )


def _mixture(models: _Models, variances: Floats) -> Noise:
    """Return the noise in which every model counts as much as it is likely."""
    merged: dict[tuple[float, Fall], float] = {}
    for parts, variance in zip(models.parts, variances.tolist(), strict=True):
        for part in parts:
            key = (part.length_mm, part.fall)
            merged[key] = merged.get(key, 0.0) + part.variance_mm2 * variance
    total = sum(merged.values())
    kept = {key: value for key, value in merged.items() if value > LEAST_SHARE * total}
    scale = total / sum(kept.values())
    return Noise(
        parts=tuple(
            NoisePart(variance_mm2=value * scale, length_mm=length, fall=fall)
            for (length, fall), value in kept.items()
        )
    )
