"""Laying a measured wheel on the unworn parts of its design.

Wear only takes metal away: a point inside the design may be worn, one far outside is noise or dirt,
so weights fall to zero sooner inward than outward. A first placement from the flange tip and the
lie of the tread is tried with several sideways shifts, because a flange back worn by check rails
looks like a wheel set sideways; the one from which most unworn arc agrees and least metal stands
out is settled by Gauss-Newton steps. Chamfer, rim face and field end of the tread must then stand
where the rest foretells them, or they are taken for rolled or worn and hold nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d

from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.outline import Floats
from tapertread.shapes.wheels.datum import (
    BACK,
    CHAMFER,
    FITS_WITHIN_MM,
    PART_NAMES,
    RIM_FACE,
    TREAD_END,
    WORN,
    Flags,
    Match,
    WheelDatum,
)

STRIDE_MM, CLOSE_BY_MM = 0.8, 6.0
CAPTURES_MM = (3.0, 2.0, 1.2, 0.8)
SIDEWAYS_MM = (-1.0, 1.0, 2.0, -2.0)
SURE = 0.9
NOTHING: frozenset[int] = frozenset()
OFF_MM, OFF_SPREADS = 0.12, 3.5
INWARD_CUT, OUTWARD_CUT = 4.0, 6.0
LEAST_SCALE_MM, MOST_SCALE_MM = 0.03, 0.08
STANDS_OUT_MM, AGREES = 0.25, 2.0
SETTLED_MM = 1e-5
STEPS = 12
TRUST = (1.0, 1.0, 0.4, 1.0, 1.0, 0.0)
"""In back, tip, tread end, chamfer and rim face; in what rails wear, none."""

STIFFNESS = np.diag([1e-6, 1e-6, 1e-2])
"""Keeps still what nothing holds."""

ANCHOR_TREND = (45.0, 95.0)
"""Arc beyond the flange tip between which the lie of the tread gives the first turn, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A movement: turned about the file's origin (rad), then shifted (mm)."""

    dy_mm: float = 0.0
    dz_mm: float = 0.0
    turn_rad: float = 0.0

    def of(self, points: Floats) -> Floats:
        """Return the moved points (n, 2)."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        turned = points @ np.array([[cos, sin], [-sin, cos]])
        return np.asarray(turned + np.array([self.dy_mm, self.dz_mm]))

    def then(self, step: Floats) -> Pose:
        """Return this movement followed by a small one (dy mm, dz mm, turn rad)."""
        moved = Pose(turn_rad=float(step[2])).of(np.array([[self.dy_mm, self.dz_mm]]))[0]
        return Pose(
            dy_mm=float(moved[0] + step[0]),
            dz_mm=float(moved[1] + step[1]),
            turn_rad=float(self.turn_rad + step[2]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelFit:
    """A placement on the unworn parts.

    Attributes
    ----------
    pose : Pose
    points : ndarray, shape (n, 2)
        Moved points of the fit, mm.
    arc_mm : ndarray, shape (n,)
        Their arc length along the outline, mm.
    matched : Match
    weight : ndarray, shape (n,)
        Weight of each point, 0 where it holds nothing.
    without : frozenset of int
        Parts left out because they stand elsewhere than the rest foretells.
    covariance : ndarray, shape (3, 3)
        Of dy, dz (mm) and turn (rad) about the design's origin.
    confidence : float
        Share of the arc on unworn parts that agrees within three times the noise.
    """

    pose: Pose
    points: Floats
    arc_mm: Floats
    matched: Match
    weight: Floats
    without: frozenset[int]
    covariance: Floats
    confidence: float

    def arc_of(self, part: int) -> float:
        """Return how much arc (mm) of a part takes a share in holding the wheel."""
        step = float(np.median(np.diff(self.arc_mm)))
        return step * np.count_nonzero(self.weight[self.matched.part == part])

    @property
    def parts(self) -> tuple[str, ...]:
        """Names of the parts that hold the wheel with more than 2 mm of arc."""
        return tuple(name for part, name in enumerate(PART_NAMES) if self.arc_of(part) > 2.0)


def fit_wheel(points: Floats, datum: WheelDatum, *, noise: Noise) -> WheelFit:
    """Return the placement of a cleaned outline (n, 2; even steps; bridged points left out).

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Gauge side first, at any origin and tilted by up to about 20°, mm.
    datum : WheelDatum
        The design.
    noise : Noise
        Of the points.
    """
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    stride = max(1, round(STRIDE_MM / float(np.median(np.diff(arc)))))
    job = _Job(points=points[::stride], arc_mm=arc[::stride], datum=datum, noise=noise)
    start = _start(points, arc, datum)
    fit = job.weighed(job.settled(start))
    if fit.confidence < SURE:
        aside = [job.settled(start.then(np.array([dy, 0.0, 0.0]))) for dy in SIDEWAYS_MM]
        no_back = job.settled(start, without=frozenset({BACK}))
        poses = [fit.pose, *aside, no_back, job.settled(no_back, coarse=False)]
        best = max(poses, key=lambda pose: merit(pose, job.points, datum, scale_mm=job.scale_mm))
        fit = job.weighed(best)
    for part in (CHAMFER, TREAD_END):
        fit = _unless_off(fit, job, part=part)
    return fit


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    points: Floats
    arc_mm: Floats
    datum: WheelDatum
    noise: Noise

    @property
    def scale_mm(self) -> float:
        return min(max(self.noise.sigma_mm, LEAST_SCALE_MM), MOST_SCALE_MM)

    def settled(
        self, pose: Pose, *, without: frozenset[int] = NOTHING, coarse: bool = True
    ) -> Pose:
        """Return the placement that Gauss-Newton steps lead to, first from afar if `coarse`."""
        for capture in CAPTURES_MM if coarse else ():
            scale = max(self.scale_mm, capture / INWARD_CUT)
            pose = pose.then(self._step(pose, self.points, scale_mm=scale, without=without))
        points = self._telling(pose)
        for _ in range(STEPS):
            step = self._step(pose, points, scale_mm=self.scale_mm, without=without)
            pose = pose.then(step)
            if np.abs(step * [1.0, 1.0, 50.0]).max() < SETTLED_MM:
                break
        return pose

    def _telling(self, pose: Pose) -> Floats:
        """Return the points on unworn parts or close by; what lies amid wear tells nothing."""
        unworn = self.datum.match(pose.of(self.points)).part != WORN
        return self.points[maximum_filter1d(unworn, size=2 * round(CLOSE_BY_MM / STRIDE_MM) + 1)]

    def _step(
        self, pose: Pose, points: Floats, *, scale_mm: float, without: frozenset[int]
    ) -> Floats:
        """Return the next Gauss-Newton step: dy, dz (mm) and turn (rad)."""
        moved = pose.of(points)
        matched = self.datum.match(moved)
        j = slopes(moved, matched.normal)
        pull = j.T * weights(matched, scale_mm=scale_mm, without=without)
        return np.asarray(-np.linalg.solve(pull @ j + STIFFNESS, pull @ matched.outward_mm))

    def weighed(self, pose: Pose, *, without: frozenset[int] = NOTHING) -> WheelFit:
        """Return a placement with its weights, covariance and confidence."""
        moved = pose.of(self.points)
        matched = self.datum.match(moved)
        weight = weights(matched, scale_mm=self.scale_mm, without=without)
        unworn = (matched.part != WORN) & (np.abs(matched.outward_mm) < 3.0)
        agrees = unworn & (np.abs(matched.outward_mm) < 3.0 * self.scale_mm)
        gain = _gain(moved, matched, weight)
        held = weight > 0.0
        spread = point_covariance(matched, held, noise=self.noise, arc=self.arc_mm)
        return WheelFit(
            pose=pose,
            points=moved,
            arc_mm=self.arc_mm,
            matched=matched,
            weight=weight,
            without=without,
            covariance=gain @ spread @ gain.T if held.sum() >= 6 else np.diag([np.inf] * 3),
            confidence=float(agrees.sum() / max(1, unworn.sum())),
        )


def _unless_off(fit: WheelFit, job: _Job, *, part: int) -> WheelFit:
    """Return the fit, or one without a part that stands elsewhere than the rest foretells."""
    mine = fit.matched.part == part
    if not fit.weight[mine].any():
        return fit
    without = fit.without | ({CHAMFER, RIM_FACE} if part == CHAMFER else {part})
    rest = job.weighed(job.settled(fit.pose, without=without, coarse=False), without=without)
    mine = (rest.matched.part == part) & (np.abs(rest.matched.outward_mm) < 3.0)
    if mine.sum() < 3 or not np.isfinite(rest.covariance).all():
        return fit
    lever = slopes(rest.points, rest.matched.normal)[mine].mean(axis=0)
    spread = point_covariance(rest.matched, mine, noise=job.noise, arc=job.arc_mm).mean()
    unsure = math.sqrt(float(lever @ rest.covariance @ lever) + float(spread))
    off = abs(float(rest.matched.outward_mm[mine].mean()))
    return rest if off > max(OFF_MM, OFF_SPREADS * unsure) else fit


def _start(points: Floats, arc: Floats, datum: WheelDatum) -> Pose:
    """Return a first placement: the tread's lie gives the turn, the lowest point the rest."""
    pose = Pose()
    for _ in range(2):
        moved = pose.of(points)
        tip = int(np.argmin(moved[:, 1]))
        drawn_tip = int(np.argmin(datum.points[:, 1]))
        drawn_arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(datum.points, axis=0).T))))
        reach = min(ANCHOR_TREND[1], float(arc[-1] - arc[tip]) - 6.0)
        near = min(ANCHOR_TREND[0], 0.5 * reach)
        seen = _chord(moved, arc, arc[tip] + near, arc[tip] + reach)
        drawn = _chord(
            datum.points, drawn_arc, drawn_arc[drawn_tip] + near, drawn_arc[drawn_tip] + reach
        )
        pose = pose.then(np.array([0.0, 0.0, drawn - seen]))
    tip_at = pose.of(points)
    lowest = tip_at[int(np.argmin(tip_at[:, 1]))]
    return pose.then(np.array([datum.tip_y_mm - lowest[0], datum.tip_z_mm - lowest[1], 0.0]))


def _chord(points: Floats, arc: Floats, first_mm: float, last_mm: float) -> float:
    """Return the direction (rad) from one place of a curve to another."""
    (y0, y1), (z0, z1) = (np.interp([first_mm, last_mm], arc, c) for c in points.T)
    return math.atan2(z1 - z0, y1 - y0)


def weights(matched: Match, *, scale_mm: float, without: frozenset[int] = NOTHING) -> Floats:
    """Return Tukey's weights, cut sooner inward than outward, times the trust in each part."""
    cut = scale_mm * np.where(matched.outward_mm < 0.0, INWARD_CUT, OUTWARD_CUT)
    inside = np.maximum(0.0, 1.0 - (matched.outward_mm / cut) ** 2) ** 2
    trust = np.array(TRUST)
    trust[[WORN, *without]] = 0.0
    return np.asarray(inside * trust[matched.part])


def slopes(points: Floats, normal: Floats) -> Floats:
    """Return how outward distances follow dy, dz (mm) and turn (rad), shape (n, 3)."""
    turn = normal[:, 1] * points[:, 0] - normal[:, 0] * points[:, 1]
    return np.column_stack([normal, turn])


def _gain(points: Floats, matched: Match, weight: Floats) -> Floats:
    """Return how the placement follows the outward distances of the held points, shape (3, k)."""
    held = weight > 0.0
    j = slopes(points, matched.normal)[held]
    pull = j.T * weight[held]
    return np.asarray(np.linalg.solve(pull @ j + STIFFNESS, pull))


def merit(pose: Pose, points: Floats, datum: WheelDatum, *, scale_mm: float) -> float:
    """Return how much unworn arc agrees less how much metal stands out, in points."""
    matched = datum.match(pose.of(points))
    unworn = matched.part != WORN
    agrees = np.exp(-0.5 * (matched.outward_mm[unworn] / (AGREES * scale_mm)) ** 2).sum()
    out = np.clip(matched.outward_mm / STANDS_OUT_MM - 1.0, 0.0, 4.0).sum()
    return float(agrees - out)


def point_covariance(matched: Match, held: Flags, *, noise: Noise, arc: Floats) -> Floats:
    """Return the covariance (mm²) of the outward distances of the held points."""
    apart = np.subtract.outer(arc[held], arc[held])
    part = matched.part[held]
    off = np.array(FITS_WITHIN_MM)[part] ** 2
    return noise.covariance(apart) + np.where(part[:, None] == part[None, :], off, 0.0)
