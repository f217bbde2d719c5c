"""Faults that move whole parts of a wheel's outline, told apart by what the unworn parts know.

Every such fault has a signature: how it displaces flange back, tip, tread end and chamfer against
the drawing; a worn back and a rolled rim have none, their points just stop telling anything. Of
all sets of at most one fault of the device (ball, skew section, scale) and any of the wheel itself
(worn back, rolled rim, worn tread end) the one is believed that leaves least of the distances
unexplained, each fault having to earn 25 of chi squared, five standard deviations, and a size that
can be. Noise that hangs together, and what each part may be off by itself, are counted [derived].
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from tapertread.shapes.cleaning.noise import Noise, NoisePart
from tapertread.shapes.outline import Floats
from tapertread.shapes.wheels.datum import (
    BACK,
    CHAMFER,
    RIM_FACE,
    TIP,
    TREAD_END,
    WORN,
    Flags,
    WheelDatum,
)
from tapertread.shapes.wheels.fit import WheelFit, point_covariance, slopes

FaultName = Literal["ball", "across", "scale", "back", "rim", "tread end"]

CERTAIN = 25.0
CAPTURE_MM = 3.0
DEEP_MM, MARGIN_MM = 0.2, 6.0
BACKWARD = -0.4
REACHED_MM = 0.08
SILENT_COST = 60.0
"""Points that may lie anywhere explain too easily: they must earn more than a shaped fault."""

MOST_CONDITION = 1e13
LEAST_NOISE = Noise(parts=(NoisePart(variance_mm2=0.01**2, length_mm=3.0),))

DEVICE: tuple[FaultName, ...] = ("ball", "across", "scale")
SHAPED: tuple[FaultName, ...] = (*DEVICE, "tread end")
SILENT: tuple[FaultName, ...] = ("back", "rim")

CAN_BE: dict[FaultName, tuple[float, float]] = {
    "ball": (0.0, 6.0),
    "across": (0.0, 0.06),
    "scale": (-0.006, 0.006),
    "tread end": (-1.0, 3.0),
}
"""Sizes that can be: mm, or share for ``across`` and ``scale``. A skew section only stretches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault found: name, size (mm; share for ``across`` and ``scale``) and its uncertainty."""

    name: FaultName
    size: float
    uncertainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Explanation:
    score: float
    faults: tuple[Fault, ...]


def find_faults(fit: WheelFit, datum: WheelDatum, *, noise: Noise) -> tuple[Fault, ...]:
    """Return the faults that the unworn parts prove.

    `datum` is the design that `fit` lies on; `noise` is that of the outline.
    """
    seen = _telling(fit, datum, noise_mm=noise.sigma_mm)
    if not datum.has_flange or seen.sum() < 20:
        return ()
    quiet = noise if noise.sigma_mm > LEAST_NOISE.sigma_mm else LEAST_NOISE
    silent = {name: where for name in SILENT if (where := _silent(fit, seen, name)).sum() >= 3}
    explanations = [
        _explained(fit, seen, {name: silent[name] for name in chosen}, noise=quiet)
        for size in range(len(silent) + 1)
        for chosen in combinations(silent, size)
    ]
    return min(explanations, key=lambda one: one.score).faults


def _telling(fit: WheelFit, datum: WheelDatum, *, noise_mm: float) -> Flags:
    """Return the points on unworn parts, without what rails have reached after all.

    Wear by rails has no shape of its own: a tread end and the running side of the tip tell nothing
    where they lie inside the drawing.
    """
    matched = fit.matched
    seen = (matched.part != WORN) & (np.abs(matched.outward_mm) < CAPTURE_MM)
    inside = matched.outward_mm < -max(REACHED_MM, 3.0 * noise_mm)
    on_end = seen & (matched.part == TREAD_END)
    if (on_end & inside).any() or TREAD_END in fit.without:
        seen &= ~on_end
    running_side = (matched.part == TIP) & (fit.points[:, 0] > datum.tip_y_mm)
    return np.asarray(seen & ~(running_side & inside))


def _silent(fit: WheelFit, seen: Flags, name: FaultName) -> Flags:
    """Return the points that tell nothing if the back is worn there, or the rim rolled over."""
    part, normal = fit.matched.part, fit.matched.normal
    if name == "back":
        on_part = seen & np.isin(part, [BACK, TIP]) & (normal[:, 0] < BACKWARD)
        telling = on_part & (fit.matched.outward_mm < -DEEP_MM)
    else:
        on_part = seen & np.isin(part, [CHAMFER, RIM_FACE])
        telling = on_part & (fit.matched.outward_mm > DEEP_MM)
        if not _rolled(fit.matched.outward_mm[on_part]):
            return np.zeros_like(telling)
    if not telling.any():
        return telling
    apart = np.abs(np.subtract.outer(fit.arc_mm, fit.arc_mm[telling])).min(axis=1)
    return np.asarray(on_part & (apart <= MARGIN_MM))


def _rolled(outward_mm: Floats) -> bool:
    """Say whether a rim stands out more and more toward its edge; one shifted whole does not."""
    third = outward_mm.size // 3
    if third < 2:
        return False
    edge, middle = outward_mm[-third:].mean(), outward_mm[third:-third].mean()
    return float(edge) > 1.5 * max(0.0, float(middle))


def _explained(
    fit: WheelFit, seen: Flags, silent: dict[FaultName, Flags], *, noise: Noise
) -> _Explanation:
    """Return the best explanation in which some points are silent; each then costs its share."""
    off = np.zeros(seen.size, dtype=bool)
    for where in silent.values():
        off |= where
    told = seen & ~off
    if told.sum() < 20:
        return _Explanation(score=math.inf, faults=())
    spread = point_covariance(fit.matched, told, noise=noise, arc=fit.arc_mm)
    spread += np.diag(np.full(int(told.sum()), (0.1 * noise.sigma_mm) ** 2))
    whiten = np.linalg.inv(np.linalg.cholesky(spread))
    shapes = signatures(fit, told)
    columns = [slopes(fit.points[told], fit.matched.normal[told]), *(shapes[n] for n in SHAPED)]
    table = whiten @ np.column_stack([*columns, fit.matched.outward_mm[told]])
    best = _best_set(table.T @ table)
    extra = tuple(_silent_fault(fit, name, where) for name, where in silent.items())
    cost = float(off.sum()) + SILENT_COST * len(silent)
    return _Explanation(score=best.score + cost, faults=(*best.faults, *extra))


def _silent_fault(fit: WheelFit, name: FaultName, where: Flags) -> Fault:
    """Return a worn back or a rolled rim by how far its telling points lie off."""
    away = np.abs(fit.matched.outward_mm[where])
    size = float(np.percentile(away, 80.0))
    return Fault(name=name, size=size, uncertainty=float(np.std(away) / math.sqrt(away.size)))


def signatures(fit: WheelFit, seen: Flags) -> dict[FaultName, Floats]:
    """Return how each shaped fault displaces the seen points outward, per unit of its size."""
    points, normal = fit.points[seen], fit.matched.normal[seen]
    return {
        "ball": np.ones(points.shape[0]),
        "across": normal[:, 0] * points[:, 0],
        "scale": np.einsum("ij,ij->i", normal, points),
        "tread end": -(fit.matched.part[seen] == TREAD_END).astype(np.float64),
    }


def _best_set(gram: Floats) -> _Explanation:
    """Return the shaped faults that explain best; `gram` holds placement, faults and target."""
    best = _Explanation(score=math.inf, faults=())
    for chosen in _sets():
        at = [0, 1, 2, *(3 + SHAPED.index(name) for name in chosen)]
        normal, right = gram[np.ix_(at, at)], gram[at, -1]
        if np.linalg.cond(normal) > MOST_CONDITION:
            continue
        answer = np.linalg.solve(normal, right)
        score = float(gram[-1, -1] - right @ answer) + CERTAIN * len(chosen)
        sizes = dict(zip(chosen, answer[3:].tolist(), strict=True))
        can_be = all(CAN_BE[name][0] <= size <= CAN_BE[name][1] for name, size in sizes.items())
        if can_be and score < best.score:
            unsure = np.sqrt(np.diag(np.linalg.inv(normal)))[3:].tolist()
            faults = [
                Fault(name=name, size=size, uncertainty=one)
                for (name, size), one in zip(sizes.items(), unsure, strict=True)
            ]
            best = _Explanation(score=score, faults=tuple(faults))
    return best


def _sets() -> list[tuple[FaultName, ...]]:
    device: list[tuple[FaultName, ...]] = [(), *((name,) for name in DEVICE)]
    return [*device, *((*one, "tread end") for one in device)]
