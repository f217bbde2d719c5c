"""What aligning returns: the outline in its design's axes, what held it, and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.outline import Outline
from tapertread.shapes.traps import Trap

Datum = Literal["fit", "given"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What fixes one freedom of the alignment.

    Attributes
    ----------
    by : str
        ``flange back``, ``tape line``, ``web``, ``foot``, ``field flank``, ``the file's origin``;
        empty where nothing that does not wear fixes it.
    uncertainty : float
        Standard uncertainty of this freedom (mm, or rad for the turn); infinite where not known.
    reason : str
        Why it is not anchored, where `by` is empty, or why its uncertainty is not known.
    """

    by: str
    uncertainty: float
    reason: str = ""

    @property
    def anchored(self) -> bool:
        """Whether something that does not wear fixes this freedom."""
        return bool(self.by)


THE_ORIGIN = "the file's origin"
ORIGIN_UNSURE = (
    "how well the device keeps its origin is not in the outline nor in this uncertainty: state "
    "its repeatability (--repeatability)"
)


def held_by_origin() -> Held:
    """Return what a file's own origin holds: nobody but the device's owner knows how surely."""
    return Held(by=THE_ORIGIN, uncertainty=math.inf, reason=ORIGIN_UNSURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aligned:
    """An outline carried into its design's axes.

    Attributes
    ----------
    outline : Outline
        The moved outline.
    dy_mm, dz_mm, turn_rad : float
        Movement applied: first turned about the file's origin (> 0 from y toward z), then shifted.
    across, up, turn : Held
        What fixes the movement in y, in z and the turn.
    confidence : float
        0..1, share of the datum points that agree with the fit within three times the noise.
    notes : tuple of str
    traps : tuple of Trap
    covariance : tuple of tuple of float
        Covariance (3, 3) of dy, dz (mm) and turn (rad) about the design's origin, where the fit
        knows it: a flank that is almost one straight line ties all three together. Else empty.
    bridged : ndarray of bool, shape (n,), or None
        Points of `outline` that stand in a gap and were never measured, where that is known.
    tread_height : Held or None
        For wheels: what says how high the worn tread stands over the design's at the tape line.
    tread_height_mm : float or None
        That height, mm: the tread lost there. `dz_mm` takes it away, for z = 0 is the worn tread.
    """

    outline: Outline
    dy_mm: float
    dz_mm: float
    turn_rad: float
    across: Held
    up: Held
    turn: Held
    confidence: float
    notes: tuple[str, ...] = ()
    traps: tuple[Trap, ...] = ()
    covariance: tuple[tuple[float, float, float], ...] = ()
    bridged: NDArray[np.bool_] | None = None
    tread_height: Held | None = None
    tread_height_mm: float | None = None
