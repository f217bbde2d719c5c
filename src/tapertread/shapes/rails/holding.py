"""What of a placement is held by something that does not wear, and how surely.

A movement counts as held if the noise leaves it surer than a stated limit. What is not held is
taken out of the fit: the height first (the rail is then set by its running surface), then the turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tapertread.shapes.alignment import Held
from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats
from tapertread.shapes.rails.datum import Points, unworn_parts
from tapertread.shapes.rails.fit import TURN_ARM_MM, Fit, Pose, influence, settle, spread

ALL_FREE = (0, 1, 2)
ACROSS, UP, TURN = ALL_FREE

HELD_WITHIN = (0.5, 0.5, math.radians(0.6))
"""Standard uncertainty (mm, mm, rad) beyond which a movement counts as held by nothing."""

USUAL_WEAR_MM = 10.0
"""Vertical wear that must be thought possible where nothing says how high the rail stands."""

COUNTS_ABOVE = 1.3
"""A part is named as holding a movement if without it the variance would grow by this factor."""


NOT_HELD = (
    "nothing that does not wear is seen which holds the rail across",
    "nothing that does not wear is seen which says how high the rail stands: it was set by its "
    "running surface, so that wear of it would read zero",
    "nothing that does not wear is seen over a length that shows how the rail leans",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A fit with what it holds: movements left free, their covariance, notes."""

    fit: Fit
    free: tuple[int, ...]
    covariance: Floats
    noise: Noise
    notes: tuple[str, ...] = ()


def what_is_held(placed: Fit, points: Points, design: Drawing, *, noise: Noise) -> Placement:
    """Return the placement with every movement that nothing holds taken out of the fit."""
    covariance = covariance_of(placed, ALL_FREE, noise)
    if covariance is not None and within_limits(covariance, ALL_FREE):
        return Placement(fit=placed, free=ALL_FREE, covariance=covariance, noise=noise)
    for free in ((ACROSS, TURN), (ACROSS,)):
        fit = _at_the_top(placed.pose, points, design, free=free, scale_mm=noise.sigma_mm)
        covariance = covariance_of(fit, free, noise)
        if covariance is not None and within_limits(covariance, free):
            widened = covariance + _slide(fit, free)
            return Placement(fit=fit, free=free, covariance=widened, noise=noise)
    return Placement(fit=fit, free=(), covariance=np.zeros((3, 3)), noise=noise)


def covariance_of(fit: Fit, free: Sequence[int], noise: Noise) -> Floats | None:
    """Return the covariance (3, 3) of the placement, or ``None`` where it is not held."""
    follow = influence(fit, free=free)
    return None if follow is None else spread(follow, fit.points, noise=noise)


def within_limits(covariance: Floats, free: Sequence[int]) -> bool:
    """Return whether every free movement is sure enough to count as held."""
    return all(math.sqrt(covariance[one, one]) <= HELD_WITHIN[one] for one in free)


def _at_the_top(
    pose: Pose, points: Points, design: Drawing, *, free: Sequence[int], scale_mm: float
) -> Fit:
    """Return the fit of the free movements with the running surface at the design's top."""
    if TURN not in free:
        pose = replace(pose, turn_rad=0.0)
    for _ in range(4):
        moved = pose.of(points)
        lift = -float(moved.z_mm[np.abs(moved.y_mm) < 0.5 * TURN_ARM_MM].max(initial=-np.inf))
        lift = lift if math.isfinite(lift) else -float(moved.z_mm.max())
        pose = replace(pose, dz_mm=pose.dz_mm + lift)
        fit = settle(pose, points, unworn_parts(design), scale_mm=scale_mm, free=free)
        pose = fit.pose
    return fit


def _slide(fit: Fit, free: Sequence[int]) -> Floats:
    """Return the covariance that an unknown vertical wear adds: the flank slides along itself."""
    follow = influence(fit, free=free)
    assert follow is not None
    lifted = follow @ fit.matched.nz
    lifted[UP] += 1.0
    return USUAL_WEAR_MM**2 / 3.0 * np.outer(lifted, lifted)


def holders(placement: Placement, design: Drawing) -> tuple[Held, Held, Held]:
    """Return what holds each movement, by the parts without which it would be less sure."""
    fit, noise, free = placement.fit, placement.noise, placement.free
    full = covariance_of(fit, free, noise)
    assert full is not None
    gains: dict[str, Floats] = {}
    for index, part in enumerate(unworn_parts(design)):
        without = replace(fit, weight=np.where(fit.matched.part == index, 0.0, fit.weight))
        if np.any(without.weight != fit.weight):
            rest = covariance_of(without, free, noise)
            gains[part.name] = np.full(3, np.inf) if rest is None else _shares(rest, full)
    across, up, turn = (_holder(placement, gains, which) for which in ALL_FREE)
    return across, up, turn


def _shares(covariance: Floats, of: Floats) -> Floats:
    """Return one covariance's variances in shares of another's; 1 where neither has any."""
    mine, whole = np.diag(covariance), np.diag(of)
    return np.divide(mine, whole, out=np.ones(3), where=whole > 0.0)


def _holder(placement: Placement, gains: dict[str, Floats], which: int) -> Held:
    """Return what holds one movement, from how much each part gains it."""
    uncertainty = math.sqrt(placement.covariance[which, which])
    if which not in placement.free:
        return Held(by="", uncertainty=uncertainty, reason=NOT_HELD[which])
    best = max(gain[which] for gain in gains.values())
    named = [name for name, gain in gains.items() if gain[which] >= min(best, COUNTS_ABOVE)]
    return Held(by=" and ".join(named), uncertainty=uncertainty)
