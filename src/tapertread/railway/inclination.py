"""The inclination of a rail as railways write it: ``1:40``, ``1:20``, or ``upright``."""

from __future__ import annotations

import math
import re

from tapertread.errors import SurveyRefused

UPRIGHT = "upright"
_RATIO = re.compile(r"1\s*:\s*(\d+(?:\.\d+)?)")
STEEPEST_RUN = 5.0
"""``1:5`` is steeper than any running rail is laid (common practice, no source)."""


def inclination_slope(text: str) -> float:
    """Return the slope of a written inclination, > 0 leaning toward the track centre.

    ``1:40`` → 0.025; ``upright`` → 0.

    Raises
    ------
    SurveyRefused
        ``inclination-unreadable`` for anything else, bare numbers such as ``40`` included.
    """
    bare = text.strip().lower()
    if bare == UPRIGHT:
        return 0.0
    found = _RATIO.fullmatch(bare)
    if found is None or float(found.group(1)) < STEEPEST_RUN:
        raise SurveyRefused(
            "inclination-unreadable",
            f"the inclination {text!r}",
            allowed="`1:N` such as 1:40, or the word upright",
            todo="write the ratio of the rail's lean toward the track centre",
        )
    return 1.0 / float(found.group(1))


def inclination_rad(text: str) -> float:
    """Return the angle of a written inclination, rad, > 0 leaning toward the track centre.

    Raises
    ------
    SurveyRefused
        As `inclination_slope`.
    """
    return math.atan(inclination_slope(text))
