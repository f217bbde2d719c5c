"""One wheel outline to be gauged: its places, and what makes every reading unsure."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.alignment import Aligned
from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.wheels.datum import WheelDatum
from tapertread.shapes.wheels.readings import Place, Running

FLANGE_RADIUS_MM, TREAD_RADIUS_MM = 12.0, 80.0
BRIDGED_RADIUS_MM = 12.0
"""What hides in a gap may bend as tightly as this, the bottom of a hollow worn into a tread too."""

BRIDGED_SHARE = 0.3
"""Share of the chord's height by which a bridge over a gap may miss the metal."""

MOST_BRIDGED_MM = 0.15
NOT_REACHED = "the outline does not show the {place}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """An aligned wheel to be gauged, with what makes every reading unsure.

    Attributes
    ----------
    aligned, cleaned : Aligned, Cleaned
    datum : WheelDatum
        The design.
    running : Running
    tape, tip : Place or None
        The worn tread at the tape line and the flange tip, where the outline shows them.
    """

    aligned: Aligned
    cleaned: Cleaned
    datum: WheelDatum
    running: Running
    tape: Place | None
    tip: Place | None

    @classmethod
    def of(cls, aligned: Aligned, cleaned: Cleaned, datum: WheelDatum) -> Job:
        """Return the job of gauging an aligned outline."""
        running = Running.of(np.column_stack([aligned.outline.y_mm, aligned.outline.z_mm]))
        return cls(
            aligned=aligned,
            cleaned=cleaned,
            datum=datum,
            running=running,
            tape=running.tape(),
            tip=running.tip() if datum.has_flange else None,
        )

    def missing(self, *places: tuple[str, Place | None], held: tuple[str, ...] = ()) -> str:
        """Return why a measure that needs these places and movements is missing, or nothing."""
        for name in held:
            what = getattr(self.aligned, name)
            if not what.anchored:
                return str(what.reason)
        for name, place in places:
            if place is None and not self.datum.has_flange and name != "tape line":
                return "this design has no flange"
            if place is None:
                return NOT_REACHED.format(place=name)
            if self.bridge_mm(place) > MOST_BRIDGED_MM:
                return f"no points were measured around the {name}"
        return ""

    def noise_mm(self, place: Place) -> float:
        """Return the standard noise along the normal at a place, mm."""
        return float(self.cleaned.point_noise_mm[place.index])

    def bridge_mm(self, place: Place) -> float:
        """Return how far a bridge over a gap may miss the metal at a place, mm; 0 if measured."""
        bridged = self.cleaned.bridged
        if not bridged[place.index]:
            return 0.0
        open_ends = np.flatnonzero(~bridged)
        right = open_ends[open_ends > place.index].min(initial=bridged.size - 1)
        left = open_ends[open_ends < place.index].max(initial=0)
        length = float(self.running.arc_mm[right] - self.running.arc_mm[left])
        return BRIDGED_SHARE * length**2 / (8.0 * BRIDGED_RADIUS_MM)

    def longest_gap(self, within: slice) -> tuple[float, float] | None:
        """Return the longest bridge that touches a stretch of points: its length and y (mm)."""
        bridged, arc = self.cleaned.bridged, self.running.arc_mm
        edges = np.flatnonzero(np.diff(np.concatenate(([False], bridged, [False])).astype(np.int8)))
        runs = [
            (float(arc[min(last, arc.size - 1)] - arc[max(0, first - 1)]), first, last)
            for first, last in edges.reshape(-1, 2).tolist()
            if first < within.stop and last > within.start
        ]
        if not runs:
            return None
        length, first, last = max(runs)
        return length, float(self.running.points[first:last, 0].mean())

    def sampling(self, *places: Place) -> float:
        """Return the uncertainty from the distance of points and from bridged gaps, mm."""
        chord = [self.cleaned.spacing_mm**2 / (8.0 * self._radius_mm(place)) for place in places]
        total = sum(
            c * c / 12.0 + self.bridge_mm(p) ** 2 for c, p in zip(chord, places, strict=True)
        )
        return math.sqrt(total)

    def _radius_mm(self, place: Place) -> float:
        return (
            TREAD_RADIUS_MM
            if abs(place.tangent[1]) < 0.2 and place is self.tape
            else (FLANGE_RADIUS_MM)
        )

    def datum_part(self, *lever: float) -> float:
        """Return the uncertainty that levers on dy, dz (mm) and turn (rad) take over, mm."""
        arm = np.array(lever)
        return math.sqrt(max(0.0, float(arm @ np.array(self.aligned.covariance) @ arm)))
