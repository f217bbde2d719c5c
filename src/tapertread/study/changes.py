"""What changed since the campaign before, and what cannot have changed: sides that were exchanged.

Metal does not come back: flanges do not thicken and rails do not fill up, unless wheels were turned
or rails renewed. Where one side gained what the other lost, and both fit when left and right are
exchanged, left and right were exchanged in one of the campaigns [derived].
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from tapertread.limits import Verdict, Word
from tapertread.shapes.measured import Measured
from tapertread.study.held import finding
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import Earlier, SectionOnHand, WheelsetOnHand
from tapertread.units import UnitSystem

SURE = 3.0
"""Changes larger than this many standard uncertainties are none of the device's."""

LEAST_SWAP_MM = 0.5
"""Smaller differences between left and right do not tell which is which."""


def changes_since(measures: Mapping[str, Measured], earlier: Earlier | None) -> dict[str, Measured]:
    """Return now minus before of every measure that both campaigns have, in its unit."""
    if earlier is None:
        return {}
    changes = {}
    for name, now in measures.items():
        before = earlier.measures.get(name)
        if before is not None and before.value is not None and now.value is not None:
            changes[name] = _difference(now, before)
    return changes


def _difference(now: Measured, before: Measured) -> Measured:
    """Return now minus before; parts of both add up as if nothing of the device were common."""
    value = (now.value or 0.0) - (before.value or 0.0)
    if now.uncertainty is None or before.uncertainty is None:
        return Measured(value=value, unit=now.unit)
    return Measured.of(value, now.unit, now=now.uncertainty, before=before.uncertainty)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wear:
    """A measure that wear moves one way only: ``-1`` falls, ``1`` rises."""

    quantity: str
    way: Literal[-1, 1]


FLANGE = _Wear(quantity="flange_thickness_mm", way=-1)
SIDE_OF_RAIL = _Wear(quantity="side_wear_mm", way=1)


def sides_exchanged(
    measures: Mapping[str, Measured], earlier: Mapping[str, Measured], *, wear: _Wear
) -> bool:
    """Return whether left and right can only be explained as exchanged since the campaign before.

    Parameters
    ----------
    measures, earlier : mapping of str to Measured
        Of now and before, sides as ``.left`` and ``.right``.
    wear : _Wear
        The measure that tells, mm.
    """
    now = [measures.get(f"{wear.quantity}.{side}") for side in ("left", "right")]
    before = [earlier.get(f"{wear.quantity}.{side}") for side in ("left", "right")]
    values = [(one.value, one.uncertainty) for one in (*now, *before) if one is not None]
    known = [(v, u) for v, u in values if v is not None and u is not None]
    if len(known) < 4:
        return False
    (left, a), (right, b), (old_left, c), (old_right, d) = known
    if abs(old_left - old_right) < LEAST_SWAP_MM:
        return False
    straight = (
        wear.way * (left - old_left) / math.hypot(a, c),
        wear.way * (right - old_right) / math.hypot(b, d),
    )
    across = (
        wear.way * (left - old_right) / math.hypot(a, d),
        wear.way * (right - old_left) / math.hypot(b, c),
    )
    one_gained_as_the_other_lost = min(straight) < -SURE and max(straight) > SURE
    return one_gained_as_the_other_lost and min(across) > -SURE


def exchanged_findings(
    one: WheelsetOnHand | SectionOnHand, subject: Subject, *, system: UnitSystem
) -> list[Finding]:
    """Return the finding that left and right were exchanged, where they were."""
    if one.earlier is None:
        return []
    wear = FLANGE if isinstance(one, WheelsetOnHand) else SIDE_OF_RAIL
    if not sides_exchanged(one.measures, one.earlier.measures, wear=wear):
        return []
    why = f"left and right seem exchanged since campaign {one.earlier.campaign}"
    return [
        finding(
            subject,
            "sides_swapped",
            verdict=Verdict(
                word=Word.AGAIN, measured=Measured.missing("", why), limit=None, why_not=why
            ),
            reason=Reason(code="sides-swapped", values={"campaign": one.earlier.campaign}),
            system=system,
        )
    ]
