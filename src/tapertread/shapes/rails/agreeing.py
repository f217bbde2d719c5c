"""Whether the unworn parts of a rail agree with its design at all, and whether mirrored they would.

A rail whose gauge face is worn and whose y runs the wrong way shows that face where its field flank
belongs. Held by it the rail is turned until the face fits, and wear is read where there is none:
so an outline of which less than half the unworn parts agree holds nothing, and one that agrees far
better mirrored is named [trade-practice].
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from tapertread.shapes.alignment import Aligned, Held
from tapertread.shapes.outline import Outline
from tapertread.shapes.traps import Trap

LEAST_AGREEING = 0.5
MOSTLY_AGREEING, WELL_AGREEING = 0.9, 0.8
MIRRORED_BETTER, MIRRORED_FAR_BETTER = 0.15, 0.3
LEAST_LEAN_RAD, AS_GOOD = math.radians(1.0), -0.02
"""Mirrored it need only agree as well if it then stands straighter by more than this."""

Fitting = Callable[[Outline], Aligned]


def mirrored(outline: Outline) -> Outline:
    """Return the outline with y the other way round, still from gauge side to field side."""
    return outline.with_points(-outline.y_mm[::-1], outline.z_mm[::-1])


def disagreement(fitted: Aligned, outline: Outline, *, fit: Fitting) -> Trap | None:
    """Return why an outline held by some unworn part cannot be trusted, or ``None``.

    Parameters
    ----------
    fitted : Aligned
        By its unworn parts.
    outline : Outline
        As it was before.
    fit : callable
        Aligns another outline in the same way.
    """
    share = fitted.confidence
    leans = outline.frame == "rail-axis" and abs(fitted.turn_rad) > LEAST_LEAN_RAD
    if not fitted.across.anchored or (share >= MOSTLY_AGREEING and not leans):
        return None
    other = fit(mirrored(outline))
    gain = other.confidence - share if other.across.anchored else -1.0
    less_turned = leans and abs(other.turn_rad) < abs(fitted.turn_rad) - LEAST_LEAN_RAD
    enough = AS_GOOD if less_turned else MIRRORED_BETTER
    if other.confidence >= WELL_AGREEING and gain >= enough:
        clear = gain >= MIRRORED_FAR_BETTER
        return Trap(
            name="mirrored-outline" if clear else "sides-swapped",
            severity="refuse" if clear else "mark",
            found=f"{share:.0%} of the unworn parts agree with the design, mirrored "
            f"{other.confidence:.0%}: y runs the wrong way, left and right are swapped, or the "
            "rail was turned round",
        )
    if share >= LEAST_AGREEING:
        return None
    found = f"{_too_few(share)}: another design, or worn where no wheel runs; state the design"
    return Trap(name="another-design", severity="refuse", found=found)


def held_by_nothing(aligned: Aligned, *, share: float) -> Aligned:
    """Return an outline set by its running surface, held by nothing for want of agreement."""
    held = Held(by="", uncertainty=math.inf, reason=_too_few(share))
    return replace(aligned, across=held, up=held, turn=held, confidence=share)


def _too_few(share: float) -> str:
    return f"only {share:.0%} of the unworn parts agree with the design"
