"""How a free wheelset runs on straight track: its wave, or how fast it leaves a line."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tapertread.contact.conicity import main_line
from tapertread.contact.flange import fine_table, tread_end
from tapertread.contact.records import ContactTable
from tapertread.errors import ContactRefused

HALF_STEP_MM = 0.25
"""Half the length over which the slope at an unstable line is taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tangent:
    """How a free wheelset of this shape weaves on straight track.

    Attributes
    ----------
    wavelength_m, frequency_hz : float or None
        Kinematic wave [klingel-1883]; ``None`` where conicity is undefined or not positive.
    growth_per_m : float or None
        Where no stable line is within its play: rate at which a small shift off the centre grows,
        ``sqrt(|slope| / (e r0))`` with the slope of the difference [derived]; else ``None``.
    line_mm : float or None
        Shift of the rolling line, ``None`` without a stable one.
    leans_on : str or None
        The wheel whose flange bears on the rolling line, if one does.
    """

    wavelength_m: float | None
    frequency_hz: float | None
    growth_per_m: float | None
    line_mm: float | None
    leans_on: str | None


def wavelength_m(conicity: float, *, tape_circle_mm: float, radius_mm: float) -> float:
    """Return Klingel's wavelength ``2 pi sqrt(e r0 / (2 conicity))``, m [klingel-1883].

    Raises
    ------
    ContactRefused
        If the conicity is not positive: such a wheelset does not weave about its line.
    """
    if not conicity > 0.0:
        raise ContactRefused(
            "no-wave",
            f"a conicity of {conicity}",
            allowed="a conicity above zero",
            todo="look at the rolling lines instead",
        )
    return 2.0 * math.pi * math.sqrt(tape_circle_mm * radius_mm / (2.0 * conicity)) / 1000.0


def run_tangent(
    table: ContactTable, *, conicity_value: float | None, speed_kmh: float | None = None
) -> Tangent:
    """Return the kinematic wave of a pairing and the line it runs on.

    A wheelset without a stable line within its play drifts until a flange leads it.

    Parameters
    ----------
    table : ContactTable
        The pairing.
    conicity_value : float or None
        Equivalent conicity at the chosen amplitude.
    speed_kmh : float, optional
        Speed for the frequency.
    """
    line = main_line(table)
    length = None
    if conicity_value is not None and conicity_value > 0.0:
        length = wavelength_m(
            conicity_value,
            tape_circle_mm=table.wheelset.tape_circle_distance_mm,
            radius_mm=table.wheelset.mean_radius_mm,
        )
    return Tangent(
        wavelength_m=length,
        frequency_hz=None if length is None or speed_kmh is None else speed_kmh / 3.6 / length,
        growth_per_m=_growth_per_m(table) if line is None else None,
        line_mm=None if line is None else line.shift_mm,
        leans_on=_leaning(table, None if line is None else line.shift_mm),
    )


def _growth_per_m(table: ContactTable) -> float | None:
    """Return the rate at which a shift off the centre grows, ``None`` where it does not."""
    difference = table.rolling_radius_difference_mm
    stands = np.isfinite(difference)
    ends = np.array([-HALF_STEP_MM, HALF_STEP_MM])
    low, high = np.interp(ends, table.shift_mm[stands], difference[stands])
    slope = float(high - low) / (2.0 * HALF_STEP_MM)
    if slope >= 0.0:
        return None
    scale = table.wheelset.tape_circle_distance_mm * table.wheelset.mean_radius_mm
    return 1000.0 * math.sqrt(-slope / scale)


def _leaning(table: ContactTable, line_mm: float | None) -> str | None:
    """Return the wheel whose flange root or face bears on the rolling line."""
    if line_mm is None:
        difference = table.rolling_radius_difference_mm
        middle = float(difference[int(np.argmin(np.abs(table.shift_mm)))])
        return None if middle == 0.0 else ("left" if middle > 0.0 else "right")
    fine = fine_table(table)
    if line_mm > 0.0:
        end = fine.shift_mm[tread_end(fine, way=1, from_mm=0.0)]
        return "right" if line_mm > end else None
    end = fine.shift_mm[tread_end(fine, way=-1, from_mm=0.0)]
    return "left" if line_mm < end else None
