"""The rolling motion in the well of its potential: turning points, period, and what it amounts to.

With ``y'' = -difference(y) / (e r0)`` the difference, integrated from the rolling line, is a
potential. Between two computed shifts the difference is linear, so that the motion there is known
in closed form and the period is exact for the curve given [derived].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tapertread.contact.records import Floats

SAME_PLACE_MM = 1e-9
LEAST_PIECE_MM = 1e-6
"""A shorter piece at a turning point has no speed left that rounding would not spoil."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Well:
    """The potential of the rolling motion: the difference integrated from the rolling line."""

    shift: Floats
    difference: Floats
    depth: Floats
    line: int
    first: int
    last: int
    closed_left: bool
    closed_right: bool

    @classmethod
    def of(cls, shift: Floats, difference: Floats, *, line: float) -> Well:
        """Return the well of a difference (mm) over shifts (mm) about a rolling line (mm)."""
        apart = np.abs(shift - line) > SAME_PLACE_MM
        at = int(np.searchsorted(shift[apart], line))
        shift = np.insert(shift[apart], at, line)
        difference = np.insert(difference[apart], at, 0.0)
        steps = 0.5 * (difference[1:] + difference[:-1]) * np.diff(shift)
        depth = np.concatenate(([0.0], np.cumsum(steps)))
        wrong_right = np.nonzero(difference[at + 1 :] <= 0.0)[0]
        wrong_left = np.nonzero(difference[:at][::-1] >= 0.0)[0]
        return cls(
            shift=shift,
            difference=difference,
            depth=depth - depth[at],
            line=at,
            first=at - int(wrong_left[0]) if wrong_left.size else 0,
            last=at + int(wrong_right[0]) if wrong_right.size else shift.size - 1,
            closed_left=not wrong_left.size,
            closed_right=not wrong_right.size,
        )

    def turning_points(self, energy: float) -> tuple[float, float]:
        """Return where a wave of this energy turns, left and right of the line (mm)."""
        return self._turn(energy, right=False), self._turn(energy, right=True)

    def _turn(self, energy: float, *, right: bool) -> float:
        end = self.last if right else self.first
        way = 1 if right else -1
        run = self.depth[self.line : end + 1] if right else self.depth[end : self.line + 1][::-1]
        beyond = int(run.searchsorted(energy))
        if beyond >= run.size:
            return float(self.shift[end])
        outer = self.line + way * beyond
        inner = outer - way
        rest = float(energy - self.depth[inner])
        if rest <= 0.0:
            return float(self.shift[inner])
        force = abs(self.difference[inner])
        growth = (abs(self.difference[outer]) - force) / abs(self.shift[outer] - self.shift[inner])
        reach = 2.0 * rest / (force + math.sqrt(max(force * force + 2.0 * growth * rest, 0.0)))
        return float(self.shift[inner] + way * reach)

    def conicity(self, amplitude: float, *, scale: float) -> tuple[float, str]:
        """Return the conicity of a wave of this half peak to peak (mm), or NaN with the reason."""
        left, right = self.depth[self.first], self.depth[self.last]
        most = float(min(left, right))
        if self._width(most) <= 2.0 * amplitude:
            return math.nan, self._why_not(left=left, right=right)
        energy = brentq(lambda e: self._width(e) - 2.0 * amplitude, 0.0, most, xtol=1e-15)
        half_period = self._passage(energy, scale=scale)
        return 2.0 * scale * (math.pi / (2.0 * half_period)) ** 2, ""

    def _width(self, energy: float) -> float:
        left, right = self.turning_points(energy)
        return right - left

    def _why_not(self, *, left: float, right: float) -> str:
        open_side = not (self.closed_left if left < right else self.closed_right)
        if open_side:
            return "not assessed: diverges, the wave crosses another rolling line"
        return "not assessed: the wave leaves the shifts with stable contact"

    def _passage(self, energy: float, *, scale: float) -> float:
        """Return the distance rolled from one turning point to the other, mm.

        Across a piece with speeds v1, v2 (dy/dx) at its ends and a restoring rate k, the distance
        is ``2/sqrt(k) atan(sqrt(k) dy / (v1 + v2))``, with atanh for k < 0 [derived].
        """
        left, right = self.turning_points(energy)
        inside = (self.shift > left + LEAST_PIECE_MM) & (self.shift < right - LEAST_PIECE_MM)
        y = np.concatenate(([left], self.shift[inside], [right]))
        force = np.interp(y, self.shift, self.difference)
        depth = np.concatenate(([energy], self.depth[inside], [energy]))
        speed = np.sqrt(np.maximum(2.0 * (energy - depth) / scale, 0.0))
        dy = np.diff(y)
        rate = np.diff(force) / np.maximum(dy, 1e-300) / scale
        pace = dy / np.maximum(speed[1:] + speed[:-1], 1e-300)
        return float(_passing(pace, rate).sum())


def _passing(pace: Floats, rate: Floats) -> Floats:
    root = np.sqrt(np.abs(rate))
    turn = root * pace
    bound = np.minimum(turn, 1.0 - 1e-16)
    with np.errstate(divide="ignore", invalid="ignore"):
        swing = np.where(rate > 0.0, np.arctan(turn), np.arctanh(bound)) * 2.0 / root
    passing: Floats = np.where(turn < 1e-8, 2.0 * pace, swing)
    return passing
