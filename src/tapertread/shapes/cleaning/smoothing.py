"""Smoothing chosen by the noise: as much as the shape allows at each place, and no more.

Local cubics (Savitzky and Golay's weights) are run over six widths. At each place the widest is
used whose answer does not leave that of any narrower one by more than the noise would explain;
corners are kept, for no window reaches across one. Each point knows the noise left in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, minimum_filter1d

from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.cleaning.stylus import tangents
from tapertread.shapes.outline import Floats

HALF_WIDTHS_MM = (0.0, 0.8, 1.6, 3.2, 5.6, 9.0)
CUBIC = 3
MAY_DIFFER = 0.6
"""Answers of two widths may differ by this share of the noise before shape is suspected."""

CORNER_RAD = np.radians(24.0)
CORNER_REACH_MM = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothed:
    """A smoothed curve, shape (n, 2), with the standard noise left in each point, mm, (n,)."""

    points: Floats
    left_mm: Floats
    half_width_mm: Floats


def find_corners(points: Floats, *, step_mm: float) -> list[int]:
    """Return where a curve (n, 2; even steps) turns a corner sharper than an 8 mm radius would."""
    reach = round(CORNER_REACH_MM / step_mm)
    gap = max(1, round(0.2 / step_mm))
    if points.shape[0] < 3 * (reach + gap):
        return []
    before = points[reach - gap : -reach - gap] - points[: -2 * reach]
    after = points[2 * reach :] - points[reach + gap : points.shape[0] - reach + gap]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.abs(np.arctan2(cross, np.einsum("ij,ij->i", before, after)))
    highest = np.lib.stride_tricks.sliding_window_view(np.pad(turn, reach), 2 * reach + 1)
    peaks = np.flatnonzero((turn >= highest.max(axis=1)) & (turn > CORNER_RAD))
    return [int(peak) + reach for peak in peaks]


def smooth(points: Floats, *, noise: Noise, step_mm: float, corners: list[int]) -> Smoothed:
    """Smooth a curve (n, 2; even steps, mm) as far as its noise asks and its shape allows."""
    if noise.sigma_mm < 1e-4:
        silent = np.zeros(points.shape[0])
        return Smoothed(points=points, left_mm=silent, half_width_mm=silent)
    bounds = [0, *corners, points.shape[0] - 1]
    pieces = [
        _smooth_piece(points[first : last + 1], noise=noise, step_mm=step_mm)
        for first, last in pairwise(bounds)
    ]
    return Smoothed(
        points=np.vstack([pieces[0].points, *(piece.points[1:] for piece in pieces[1:])]),
        left_mm=_joined([piece.left_mm for piece in pieces]),
        half_width_mm=_joined([piece.half_width_mm for piece in pieces]),
    )


def _joined(pieces: list[Floats]) -> Floats:
    return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A local cubic over an odd number of even steps.

    Attributes
    ----------
    hat : ndarray, shape (m, m)
        Row `i` gives the weights of the cubic's value at the window's place `i`.
    overlap : ndarray, shape (m,)
        Sum of products of the middle row's weights with themselves, shifted; once per sign.
    """

    hat: Floats
    overlap: Floats

    @property
    def middle(self) -> Floats:
        """Weights of the value in the middle of the window."""
        return np.asarray(self.hat[self.hat.shape[0] // 2])

    def run(self, points: Floats) -> Floats:
        """Return the local cubic's value at every point (n, 2); ends from the window at the end."""
        half = self.hat.shape[0] // 2
        if half == 0:
            return points
        size = self.hat.shape[0]
        inner = np.column_stack([np.convolve(c, self.middle, mode="valid") for c in points.T])
        first, last = self.hat[:half] @ points[:size], self.hat[-half:] @ points[-size:]
        return np.vstack([first, inner, last])

    def left_mm(self, covariance: Floats) -> float:
        """Return the standard noise left in the middle, from the covariance at whole steps, mm²."""
        return math.sqrt(max(0.0, float(self.overlap @ covariance[: self.overlap.size])))


@lru_cache(maxsize=64)
def window(size: int) -> Window:
    """Return the local cubic over an odd number of points; below five it leaves them alone."""
    if size <= CUBIC + 1:
        return Window(hat=np.ones((1, 1)), overlap=np.ones(1))
    basis = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, size), CUBIC + 1))[0]
    hat = basis @ basis.T
    middle = hat[size // 2]
    overlap = np.correlate(middle, middle, mode="full")[size - 1 :]
    overlap[1:] *= 2.0
    return Window(hat=hat, overlap=overlap)


def _smooth_piece(points: Floats, *, noise: Noise, step_mm: float) -> Smoothed:
    sizes = [2 * round(width / step_mm) + 1 for width in HALF_WIDTHS_MM]
    windows = [window(size) for size in sizes if size <= points.shape[0]]
    widths = np.array(HALF_WIDTHS_MM[: len(windows)])
    answers = np.array([each.run(points) for each in windows])
    covariance = noise.covariance(step_mm * np.arange(max(sizes), dtype=np.float64))
    left = np.array([each.left_mm(covariance) for each in windows])
    chosen = _widest_allowed(answers, noise=noise, tangent=tangents(answers[-1]))
    level = minimum_filter1d(chosen, size=max(3, round(2.0 / step_mm)))
    level = np.minimum(gaussian_filter1d(level.astype(float), 1.5 / step_mm), chosen)
    low = level.astype(np.intp)
    high = np.minimum(low + 1, len(windows) - 1)
    share, row = level - low, np.arange(points.shape[0])
    blend = share[:, None]
    return Smoothed(
        points=answers[low, row] * (1.0 - blend) + answers[high, row] * blend,
        left_mm=left[low] * (1.0 - share) + left[high] * share,
        half_width_mm=widths[low] * (1.0 - share) + widths[high] * share,
    )


def _widest_allowed(answers: Floats, *, noise: Noise, tangent: Floats) -> NDArray[np.intp]:
    """Return, per point, the widest window that agrees with all narrower smoothing ones."""
    chosen = np.zeros(answers.shape[1], dtype=np.intp)
    agrees = np.ones(answers.shape[1], dtype=bool)
    for wide in range(1, answers.shape[0]):
        for narrow in range(1, wide):
            gap = answers[wide] - answers[narrow]
            off = np.abs(gap[:, 0] * tangent[:, 1] - gap[:, 1] * tangent[:, 0])
            agrees &= off < MAY_DIFFER * noise.sigma_mm
        chosen[agrees] = wide
    return chosen
