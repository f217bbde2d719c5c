"""Reading places of a wheel outline in its design's axes: plain numbers, no uncertainty.

All of them start from the worn tread at the tape line, so that they do not change when the outline
is moved up or down. Drawings of the definitions: ``docs/measures-wheel.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.outline import Floats
from tapertread.units import MM_PER_INCH

GAUGE_LINE_MM = 10.0
GAUGE_LINE_US_MM = 0.375 * MM_PER_INCH
BELOW_TIP_MM = 2.0
ANGLE_ARC_MM = 2.5
TIP_HALVES_MM = (3.0, 1.6, 0.9)
SHARP_MM = 0.08
HOLLOW_FROM_ROOT_MM = 3.0
HOLLOW_TO_EDGE_MM = 1.5
TREAD_SLOPE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place read on an outline: y, z (mm), index of the point next to it, tangent (unit)."""

    y_mm: float
    z_mm: float
    index: int
    tangent: tuple[float, float]

    @property
    def cot(self) -> float:
        """How far the place moves sideways per mm of height."""
        return self.tangent[0] / self.tangent[1] if abs(self.tangent[1]) > 1e-6 else math.inf

    @property
    def across(self) -> float:
        """How much of a displacement along the normal shows as one of y at the same height."""
        return 1.0 / abs(self.tangent[1]) if abs(self.tangent[1]) > 1e-6 else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceAngle:
    """A flange angle, deg: mean over `runs` neighbouring runs of `size` points from `first` on."""

    value_deg: float
    first: int
    runs: int
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """The part of an outline that runs from the flange tip to the field end.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        The whole outline, gauge side first, mm.
    arc_mm : ndarray, shape (n,)
    lowest : int
        Index of the flange tip, or of the first point where there is no flange.
    """

    points: Floats
    arc_mm: Floats
    lowest: int

    @classmethod
    def of(cls, points: Floats) -> Running:
        """Return the running part of an outline (n, 2)."""
        arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
        gauge_half = points[:, 0] < 0.0
        lowest = int(np.argmin(np.where(gauge_half, points[:, 1], np.inf)))
        return cls(points=points, arc_mm=arc, lowest=lowest)

    def tape(self) -> Place | None:
        """Return the worn tread at the tape line, y = 0."""
        y = self.points[self.lowest :, 0]
        above = np.flatnonzero((y[:-1] < 0.0) & (y[1:] >= 0.0))
        if not above.size:
            return None
        return self._between(self.lowest + int(above[0]), value=0.0, axis=0)

    def on_face(self, level_mm: float) -> Place | None:
        """Return the outermost place of the flange face at a height, as a finger finds it."""
        last = int(np.searchsorted(self.points[self.lowest :, 0], 0.0)) + self.lowest
        z = self.points[self.lowest : last, 1]
        rises = np.flatnonzero((z[:-1] < level_mm) & (z[1:] >= level_mm))
        if not rises.size:
            return None
        return self._between(self.lowest + int(rises[-1]), value=level_mm, axis=1)

    def _between(self, index: int, *, value: float, axis: int) -> Place:
        a, b = self.points[index], self.points[index + 1]
        share = (value - a[axis]) / (b[axis] - a[axis])
        low, high = max(0, index - 2), min(self.points.shape[0] - 1, index + 3)
        along = self.points[high] - self.points[low]
        along = along / max(float(np.hypot(*along)), 1e-12)
        at = a + share * (b - a)
        return Place(
            y_mm=float(at[0]),
            z_mm=float(at[1]),
            index=index + round(float(share)),
            tangent=(float(along[0]), float(along[1])),
        )

    def tip(self) -> Place | None:
        """Return the flange tip: the vertex of a parabola over ±3 mm of arc round the lowest.

        Tips worn sharp take a narrower parabola, the sharpest their lowest point.
        """
        lowest = float(self.points[self.lowest, 1])
        if self.lowest == 0 or self.arc_mm[self.lowest] < TIP_HALVES_MM[-1]:
            return None
        for half in TIP_HALVES_MM:
            vertex = self._vertex(half)
            if vertex is not None and abs(vertex[1] - lowest) < SHARP_MM:
                return self._tip_at(*vertex)
        return self._tip_at(float(self.points[self.lowest, 0]), lowest)

    def _tip_at(self, y_mm: float, z_mm: float) -> Place:
        return Place(y_mm=y_mm, z_mm=z_mm, index=self.lowest, tangent=(1.0, 0.0))

    def _vertex(self, half_mm: float) -> tuple[float, float] | None:
        """Return the vertex (y, z; mm) of a parabola round the lowest point, if it lies there."""
        near = np.abs(self.arc_mm - self.arc_mm[self.lowest]) <= half_mm
        if near.sum() < 6:
            return None
        x = self.points[near, 0] - self.points[self.lowest, 0]
        c, b, a = _parabola(x, self.points[near, 1])
        if a <= 0.0 or not x[0] < -b / (2.0 * a) < x[-1]:
            return None
        at = float(self.points[self.lowest, 0] - b / (2.0 * a))
        return at, float(c - b * b / (4.0 * a) + half_mm**4 * _QUARTIC * a**3)

    def face(self) -> slice | None:
        """Return the points between 2 mm above the tip and 4 mm beyond the tread level."""
        tape, tip = self.tape(), self.tip()
        if tape is None or tip is None:
            return None
        low, high = self.on_face(tip.z_mm + BELOW_TIP_MM), self.on_face(tape.z_mm - 4.0)
        if low is None or high is None or high.index <= low.index:
            return None
        return slice(low.index, high.index + 1)

    def angle(self, *, unsure_deg: float = 0.0) -> FaceAngle | None:
        """Return the steepest slope of a line fitted to 2.5 mm of the face.

        Noise makes one of several equally steep runs look steepest. Runs that cannot be told from
        it (within `unsure_deg`) are therefore averaged.
        """
        face = self.face()
        if face is None:
            return None
        step = float(np.median(np.diff(self.arc_mm)))
        size = round(ANGLE_ARC_MM / step) + 1
        points = self.points[face]
        if points.shape[0] < size + 2:
            return None
        slopes = _run_slopes_deg(points, size=size)
        level = slopes >= slopes.max() - unsure_deg
        best = int(np.argmax(slopes))
        first, last = _run_of(level, best)
        return FaceAngle(
            value_deg=float(slopes[first : last + 1].mean()),
            first=face.start + first,
            runs=last - first + 1,
            size=size,
        )

    def tread(self) -> slice | None:
        """Return the tread: from the root, where its slope falls below 0.6, to chamfer or lip."""
        tape = self.tape()
        if tape is None:
            return None
        first, last = self._tread_edge(tape.index, sense=-1), self._tread_edge(tape.index, sense=1)
        arc = self.arc_mm
        first = int(np.searchsorted(arc, arc[first] + HOLLOW_FROM_ROOT_MM))
        if last < arc.size - 1:
            last = int(np.searchsorted(arc, arc[last] - HOLLOW_TO_EDGE_MM))
        return slice(first, last + 1) if last > first + 5 else None

    def _tread_edge(self, start: int, *, sense: int) -> int:
        """Return where, going from a place of the tread, the curve turns steep over 2 mm."""
        step = float(np.median(np.diff(self.arc_mm)))
        reach = max(1, round(2.0 / step))
        points = self.points[start::sense]
        if points.shape[0] <= reach:
            return self.points.shape[0] - 1 if sense > 0 else 0
        run = points[reach:] - points[:-reach]
        steep = np.flatnonzero(np.abs(run[:, 1]) > TREAD_SLOPE * np.abs(run[:, 0]))
        at = int(steep[0]) if steep.size else points.shape[0] - 1
        return start + sense * at

    def hollow(self) -> tuple[float, int, int] | None:
        """Return the largest fall of z toward the field (mm) and the two places, by index."""
        tread = self.tread()
        if tread is None:
            return None
        z = self.points[tread, 1]
        highest = np.maximum.accumulate(z)
        fall = highest - z
        outer = int(np.argmax(fall))
        inner = int(np.argmax(z[: outer + 1]))
        return float(fall[outer]), tread.start + inner, tread.start + outer


_QUARTIC = 3.0 / 35.0
"""A parabola fitted evenly over ±h to ``a x² + a³ x⁴`` (a circle) passes its vertex too low by
3/35 of the last term [derived]."""


def _parabola(x: Floats, v: Floats) -> tuple[float, float, float]:
    design = x[:, None] ** np.arange(3)
    c, b, a = np.linalg.solve(design.T @ design, design.T @ v)
    return float(c), float(b), float(a)


def _run_of(level: NDArray[np.bool_], inside: int) -> tuple[int, int]:
    """Return the ends of the unbroken run of ``True`` around a place."""
    breaks = np.flatnonzero(~level)
    first = int(breaks[breaks < inside].max(initial=-1)) + 1
    last = int(breaks[breaks > inside].min(initial=level.size)) - 1
    return first, last


def _run_slopes_deg(points: Floats, *, size: int) -> Floats:
    """Return the direction (deg from the y axis, 0..180) of the line nearest to each run."""
    runs = np.lib.stride_tricks.sliding_window_view(points, size, axis=0)
    rest = runs - runs.mean(axis=2, keepdims=True)
    yy, zz = (rest[:, 0] ** 2).sum(axis=1), (rest[:, 1] ** 2).sum(axis=1)
    yz = (rest[:, 0] * rest[:, 1]).sum(axis=1)
    return np.asarray(np.degrees(0.5 * np.arctan2(2.0 * yz, yy - zz)) % 180.0)
