"""One rail outline to be gauged: its head, its design's, and what makes every reading unsure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np

from tapertread.shapes.alignment import Aligned, Held
from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Floats, Outline
from tapertread.shapes.rails.head import LONGEST_STEP_MM, Crossing, Head, head_of

OUT_OF_REACH = "the outline does not reach this place"
SHARPEST_RADIUS_MM = 13.0
"""Radius of a rail's corners, mm: what chords between points leave out is judged by it."""

NEW_STEP_MM, STEP_MM = 0.02, 0.25
WINDOW_STEPS = (24, 16, 12, 8)
TOP_STEPS, TOP_POINTS = 20, 5
FITS_WITHIN = 0.8
"""A parabola fits if it leaves less than this share of the noise: over 12 mm, noise that hangs
together over 3 mm leaves about 0.7 of itself [derived]."""

STEPS = (0.01, 0.01, 0.0005)
"""Small movements (mm, mm, rad) by which a reading's dependence on the placement is found."""

Reading = Callable[[Head], float | None]


@dataclass(frozen=True, kw_only=True)
class Job:
    """One outline to be gauged; without slots, to remember.

    Attributes
    ----------
    aligned : Aligned
    design : Drawing
    head, new : Head
        Of the outline and of the design.
    noise : Noise
    depth_mm : float
        Depth of the design's head below its top, mm.
    spacing_mm : float or None
        Distance of the points as they were measured, mm; that of the outline where not known.
    """

    aligned: Aligned
    design: Drawing
    head: Head
    new: Head
    noise: Noise
    depth_mm: float
    spacing_mm: float | None = None

    @classmethod
    def of(
        cls, aligned: Aligned, design: Drawing, *, noise: Noise, spacing_mm: float | None = None
    ) -> Job:
        """Return the job of gauging one aligned outline against its design."""
        depth = -max(design.pieces[0].start[1], design.pieces[-1].end[1])
        return cls(
            aligned=aligned,
            design=design,
            head=head_of(_measured(aligned), depth_mm=depth + 1.0),
            new=_new_head(design, depth + 1.0),
            noise=noise,
            depth_mm=depth,
            spacing_mm=spacing_mm,
        )

    @cached_property
    def nudged(self) -> tuple[tuple[Head, Head], ...]:
        """The head moved a little back and forth by each movement."""
        steps = np.diag(STEPS)
        back, forth = (
            [self.head.moved(dy, dz, turn_rad=turn) for dy, dz, turn in moves.tolist()]
            for moves in (-steps, steps)
        )
        return tuple(zip(back, forth, strict=True))

    def unheld(self, *needed: Literal["across", "up", "turn"]) -> str:
        """Return why a measure is missing that needs these movements held, or nothing."""
        for name in needed:
            held: Held = getattr(self.aligned, name)
            if not held.anchored:
                return held.reason
        return ""

    def datum(self, reading: Reading) -> float:
        """Return the uncertainty that a reading takes over from the alignment."""
        changes = np.array([_change(reading, *pair) for pair in self.nudged])
        slopes = 0.5 * changes / STEPS
        return math.sqrt(max(0.0, float(slopes @ self.covariance() @ slopes)))

    def covariance(self) -> Floats:
        """Return the covariance of dy, dz (mm) and turn (rad), as far as it is known."""
        if self.aligned.covariance:
            return np.array(self.aligned.covariance)
        held = (self.aligned.across, self.aligned.up, self.aligned.turn)
        return np.diag([one.uncertainty**2 if one.anchored else 0.0 for one in held])

    def gap_between(self, from_mm: float, to_mm: float) -> bool:
        """Return whether two places by arc length (mm) have a gap between them."""
        arc = self.head.arc_mm
        touched = (arc[1:] > from_mm) & (arc[:-1] < to_mm)
        return bool(np.diff(arc)[touched].max(initial=0.0) > LONGEST_STEP_MM)

    def top_hidden(self) -> str:
        """Return which gap may hide the worn top, or nothing."""
        steps, at = np.diff(self.head.arc_mm), self.head.highest
        beside = float(steps[max(0, at - TOP_POINTS) : at + TOP_POINTS].max(initial=0.0))
        return f"a gap of {beside:.1f} mm may hide the worn top" if beside > LONGEST_STEP_MM else ""

    def sampling(self, at: Crossing) -> float:
        """Return what a chord between two points leaves out of a corner of 13 mm radius, mm."""
        step = at.gap_mm if self.spacing_mm is None else max(at.gap_mm, self.spacing_mm)
        return step**2 / (8.0 * SHARPEST_RADIUS_MM) / math.sqrt(3.0)


def _change(reading: Reading, before: Head, after: Head) -> float:
    """Return how a reading changes from one head to another; 0 where it loses its place."""
    first, last = reading(before), reading(after)
    return 0.0 if first is None or last is None else last - first


@lru_cache(maxsize=32)
def _new_head(design: Drawing, depth_mm: float) -> Head:
    """Return the head of a design; every outline of a line asks for the same few."""
    return head_of(design.outline(NEW_STEP_MM), depth_mm=depth_mm)


def _measured(aligned: Aligned) -> Outline:
    """Return the aligned outline without the points that only bridge a gap."""
    if aligned.bridged is None:
        return aligned.outline
    kept = ~aligned.bridged
    return aligned.outline.with_points(aligned.outline.y_mm[kept], aligned.outline.z_mm[kept])


def read_along(
    job: Job, at: Crossing | None, reading: Reading, *, top_lean: float = 0.0
) -> Measured:
    """Return a reading (mm) along a line, averaged as far as the shape allows, and how sure it is.

    Parameters
    ----------
    job : Job
    at : Crossing or None
        Where the line meets the outline.
    reading : callable
        Gives the reading of a moved head; it falls as the outline moves outward.
    top_lean : float
        By how much the reading follows the height of the worn top, mm/mm.
    """
    value = reading(job.head)
    if at is None or value is None:
        return Measured.missing("mm", OUT_OF_REACH)
    if at.gap_mm > LONGEST_STEP_MM:
        return Measured.missing("mm", f"a gap of {at.gap_mm:.1f} mm lies at this place")
    share = max(at.normal_share, 0.1)
    outward_mm, noise_mm = _averaged(job, at)
    top_mm = job.noise.of_reading(_smoother(TOP_STEPS), step_mm=STEP_MM) * top_lean
    return Measured.of(
        value - outward_mm / share,
        "mm",
        noise=math.hypot(noise_mm / share, top_mm),
        datum=job.datum(reading),
        sampling=job.sampling(at),
    )


def _averaged(job: Job, at: Crossing) -> tuple[float, float]:
    """Return how far outward (mm) the outline lies here on average, and the noise left (mm).

    A parabola along the normal over up to ±6 mm of arc: over as much as it fits within the noise.
    """
    arc = job.head.arc_mm
    ny, nz = job.head.normal(at.arc_mm)
    y0, z0 = (float(np.interp(at.arc_mm, arc, one)) for one in (job.head.y_mm, job.head.z_mm))
    for steps in WINDOW_STEPS:
        places = at.arc_mm + STEP_MM * np.arange(-steps, steps + 1)
        if places[0] < arc[0] or places[-1] > arc[-1] or job.gap_between(places[0], places[-1]):
            continue
        y, z = np.interp(places, arc, job.head.y_mm), np.interp(places, arc, job.head.z_mm)
        outward = (y - y0) * ny + (z - z0) * nz
        along = (z - z0) * ny - (y - y0) * nz
        fitted = np.polynomial.Polynomial.fit(along, outward, 2)
        off = float(np.sqrt(np.mean((outward - fitted(along)) ** 2)))
        if off <= FITS_WITHIN * job.noise.sigma_mm:
            noise = job.noise.of_reading(_smoother(steps), step_mm=STEP_MM)
            return float(fitted(0.0)), noise
    return 0.0, job.noise.sigma_mm


@lru_cache(maxsize=16)
def _smoother(steps: int) -> Floats:
    """Return the weights with which a parabola over ±steps gives the value in the middle."""
    at = np.linspace(-1.0, 1.0, 2 * steps + 1)
    weights: Floats = np.linalg.pinv(np.vander(at, 3))[-1]
    return weights
