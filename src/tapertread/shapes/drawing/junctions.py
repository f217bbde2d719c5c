"""Where the pieces of a drawing meet: steps and kinks, as records."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

import numpy as np

from tapertread.errors import DrawingRefused, Where
from tapertread.shapes.drawing.pieces import TURN, Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Junction:
    """How well two pieces meet.

    Attributes
    ----------
    before, after : str
        Names of the two pieces.
    y_mm, z_mm : float
        End of the first, mm.
    arc_mm : float
        Arc length from the start of the drawing, mm.
    step_mm : float
        Distance from the end of the first to the start of the second, mm.
    kink_deg : float
        Turn of the walk, degrees, > 0 from y toward z.
    curvature_step_per_mm : float
        Curvature after less curvature before (1/mm), > 0 turns from y toward z.
    """

    before: str
    after: str
    y_mm: float
    z_mm: float
    arc_mm: float
    step_mm: float
    kink_deg: float
    curvature_step_per_mm: float

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON."""
        return asdict(self)


def junctions_of(pieces: Sequence[Piece]) -> tuple[Junction, ...]:
    """Return the junctions of a chain of pieces, in order."""
    arcs = np.cumsum([piece.length_mm for piece in pieces])
    return tuple(
        _junction(before, after, arc_mm=float(arc))
        for before, after, arc in zip(pieces[:-1], pieces[1:], arcs[:-1], strict=True)
    )


def _junction(before: Piece, after: Piece, *, arc_mm: float) -> Junction:
    last, first = np.array([before.length_mm]), np.array([0.0])
    turn = float(after.tangent_rad(first)[0] - before.tangent_rad(last)[0])
    bend = after.curvature_per_mm(first)[0] - before.curvature_per_mm(last)[0]
    return Junction(
        before=before.name,
        after=after.name,
        y_mm=before.end[0],
        z_mm=before.end[1],
        arc_mm=arc_mm,
        step_mm=math.dist(before.end, after.start),
        kink_deg=math.degrees((turn + math.pi) % TURN - math.pi),
        curvature_step_per_mm=float(bend),
    )


def check_steps(
    junctions: Sequence[Junction], *, tolerance_mm: float, where: Callable[[int], Where]
) -> None:
    """Refuse the first junction with a step above the tolerance (mm).

    Raises
    ------
    DrawingRefused
        Naming both pieces, the step and its place.
    """
    for index, junction in enumerate(junctions):
        if junction.step_mm > tolerance_mm:
            raise DrawingRefused(
                "step",
                f"a step of {junction.step_mm:.4f} mm between {junction.before} and "
                f"{junction.after} at y {junction.y_mm:.3f}, z {junction.z_mm:.3f} mm",
                allowed=f"steps up to {tolerance_mm:g} mm (tolerance_mm)",
                todo="correct the pieces, or say allow_step = true if the drawing has this step",
                where=where(index + 1),
            )
