"""Kilometres of one track and where its posts jump: from kilometre to place along the line.

A *stretch* is a run of posts between two jumps, counted from 0 in the direction of rising
kilometres. Where the posts jump back (a long kilometre) a kilometre exists on two stretches; where
they jump ahead (a short one) some kilometres exist on none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.errors import SurveyRefused, Where
from tapertread.railway.records import KilometreJump

Floats = NDArray[np.float64]

M_PER_KM = 1000.0
POST_TOLERANCE_M = 0.01
"""Places nearer than this are one place: what is left of decimal and mile posts after rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kilometres:
    """The posts of one track.

    Attributes
    ----------
    first_km, last_km : ndarray, shape (stretches,)
        Kilometres at the ends of each stretch; the outermost two are infinite.
    offset_m : ndarray, shape (stretches,)
        Place (m) = 1000 x kilometre + offset of the stretch. The origin of places is arbitrary.
    """

    first_km: Floats
    last_km: Floats
    offset_m: Floats

    @property
    def stretches(self) -> int:
        """Number of runs of posts without a jump."""
        return self.offset_m.size

    def places_m(self, km: float) -> list[float]:
        """Return every place (m) along the line that bears a kilometre, in order, each once.

        The end of one stretch and the beginning of the next are the same place.
        """
        slack = POST_TOLERANCE_M / M_PER_KM
        on = (self.first_km - slack <= km) & (km <= self.last_km + slack)
        places = np.unique(M_PER_KM * km + self.offset_m[on])
        apart = np.diff(places, prepend=-math.inf) > POST_TOLERANCE_M
        return [float(place) for place in places[apart]]

    def place_m(self, km: float, *, stretch: int) -> float | None:
        """Return the place (m) of a kilometre on one stretch, ``None`` where it is not on it."""
        slack = POST_TOLERANCE_M / M_PER_KM
        if not 0 <= stretch < self.stretches:
            return None
        if not self.first_km[stretch] - slack <= km <= self.last_km[stretch] + slack:
            return None
        return float(M_PER_KM * km + self.offset_m[stretch])

    def stretch_at(self, place_m: Floats) -> NDArray[np.int64]:
        """Return the stretch of each place (m); at a jump the one that begins there."""
        ends = M_PER_KM * self.last_km[:-1] + self.offset_m[:-1]
        return np.searchsorted(ends - POST_TOLERANCE_M, place_m, side="right").astype(np.int64)

    def km_at(self, place_m: Floats) -> Floats:
        """Return the kilometre of each place (m); at a jump the one that continues."""
        return (place_m - self.offset_m[self.stretch_at(place_m)]) / M_PER_KM


def build_kilometres(jumps: Sequence[KilometreJump] = ()) -> Kilometres:
    """Chain the jumps of one track, given in order along the line.

    Parameters
    ----------
    jumps : sequence of KilometreJump
        The equation table of one line and track.

    Raises
    ------
    SurveyRefused
        ``jump-of-nothing`` where the posts continue unchanged, ``jumps-out-of-order`` where a
        jump lies before the kilometre at which the jump before it continues.
    """
    first, last, offset = [-math.inf], [], [0.0]
    for jump in jumps:
        _check_jump(jump, first[-1])
        last.append(jump.km)
        first.append(jump.continues_km)
        offset.append(offset[-1] + M_PER_KM * (jump.km - jump.continues_km))
    last.append(math.inf)
    return Kilometres(first_km=np.array(first), last_km=np.array(last), offset_m=np.array(offset))


def jump_label(jump: KilometreJump) -> str:
    """Return the words by which a person finds a jump."""
    return f"{jump.line} {jump.track} jump at km {jump.km:.3f}"


def _check_jump(jump: KilometreJump, begins_km: float) -> None:
    where = Where(record=jump_label(jump))
    if abs(jump.km - jump.continues_km) * M_PER_KM < POST_TOLERANCE_M:
        raise SurveyRefused(
            "jump-of-nothing",
            f"a jump from km {jump.km:.3f} to the same kilometre",
            allowed="jumps ahead (short kilometre) or back (long kilometre)",
            todo="take the row out, or correct one of its two kilometres",
            where=where,
        )
    if jump.km < begins_km:
        raise SurveyRefused(
            "jumps-out-of-order",
            f"a jump at km {jump.km:.3f} on a run of posts that begins at km {begins_km:.3f}",
            allowed="the jumps of one track in order along the line",
            todo="sort the rows of the equation table along the line, or correct the kilometres",
            where=where,
        )
