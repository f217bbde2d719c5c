"""Head area lost: what a worn head lacks of its design, above a stated depth."""

from __future__ import annotations

import math

import numpy as np

from tapertread.shapes.measured import Measured
from tapertread.shapes.rails.head import LONGEST_STEP_MM, Head, area_above_mm2
from tapertread.shapes.rails.job import SHARPEST_RADIUS_MM, Job

ENDS_ON_DESIGN_MM = 0.3
"""An outline that ends within this of its design is taken to be unworn below its end."""

EVEN_STEP_MM = 0.25


def area_loss(job: Job, *, depth_mm: float | None = None) -> tuple[Measured, str]:
    """Return the head area lost (percent) above a depth (mm), and the note that goes with it.

    Below its lowest measured points the outline is continued along the design if it ends on it;
    an outline that ends on a worn place gives no area.
    """
    depth = job.depth_mm if depth_mm is None else depth_mm
    unit = "percent"
    reason = job.unheld("across", "up", "turn")
    if reason:
        return Measured.missing(unit, reason), ""
    if not 0.0 < depth <= job.depth_mm:
        return Measured.missing(unit, f"the drawing's head is {job.depth_mm:g} mm deep"), ""
    steps = np.hypot(np.diff(job.head.y_mm), np.diff(job.head.z_mm))
    if steps.max(initial=0.0) > LONGEST_STEP_MM:
        return Measured.missing(unit, f"the outline has a gap of {steps.max():.1f} mm"), ""
    whole = area_above_mm2(job.new, -depth)
    closed = _closed_along_design(job, -depth)
    if closed is None:
        return Measured.missing(unit, "the outline ends on a worn place, short of this depth"), ""

    def reading(head: Head) -> float | None:
        return 100.0 * (1.0 - area_above_mm2(head, -depth) / whole)

    value = reading(closed)
    assert value is not None
    measured = Measured.of(
        value,
        unit,
        noise=100.0 * _area_noise(job) / whole,
        datum=job.datum(lambda head: reading(_joined(head, job.new, -depth))),
        sampling=100.0 * _sampling_area(job) / whole,
    )
    note = f"head area above {depth:g} mm below the design's top ({whole:.0f} mm² when new)"
    short = max(job.head.z_mm[0], job.head.z_mm[-1]) > 0.5 - depth
    return measured, note + ("; below the outline's ends the design was taken" if short else "")


def _closed_along_design(job: Job, level_mm: float) -> Head | None:
    """Return the head continued along its design down to a level, if it ends on the design."""
    head, new = job.head, job.new
    allowed = max(ENDS_ON_DESIGN_MM, 3.0 * job.noise.sigma_mm)
    for end in (0, -1):
        if head.z_mm[end] <= level_mm:
            continue
        apart = np.hypot(new.y_mm - head.y_mm[end], new.z_mm - head.z_mm[end]).min()
        if apart > allowed:
            return None
    return _joined(head, new, level_mm)


def _joined(head: Head, new: Head, level_mm: float) -> Head:
    """Return the head with what it lacks on either side, down to a level, from the new one."""
    index = np.arange(new.z_mm.size)
    before = index[(index < new.highest) & (new.z_mm < head.z_mm[0]) & (head.z_mm[0] > level_mm)]
    after = index[(index > new.highest) & (new.z_mm < head.z_mm[-1]) & (head.z_mm[-1] > level_mm)]
    y = np.concatenate((new.y_mm[before], head.y_mm, new.y_mm[after]))
    z = np.concatenate((new.z_mm[before], head.z_mm, new.z_mm[after]))
    return Head(y_mm=y, z_mm=z, highest=int(np.argmax(z)))


def _area_noise(job: Job) -> float:
    """Return the standard deviation (mm²) of the area under noise along the normal."""
    arc = job.head.arc_mm
    even = np.linspace(0.0, arc[-1], max(2, math.ceil(arc[-1] / EVEN_STEP_MM)))
    step = float(even[1] - even[0])
    return job.noise.of_reading(np.full(even.size, step), step_mm=step)


def _sampling_area(job: Job) -> float:
    """Return the area (mm²) that chords leave out of a corner of 13 mm radius, both corners."""
    sag = (job.spacing_mm or job.head.step_mm) ** 2 / (12.0 * SHARPEST_RADIUS_MM)
    return 2.0 * 0.5 * math.pi * SHARPEST_RADIUS_MM * sag
