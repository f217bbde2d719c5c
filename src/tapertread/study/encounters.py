"""Every wheelset on every section it meets: what the two shapes do together, as numbers.

One contact table per encounter, in steps fine enough to read everything from it; the tables
themselves are not kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tapertread.contact import (
    ContactTable,
    Steering,
    TrackShape,
    WheelsetShape,
    conicity,
    contact_bandwidth,
    contact_table,
    finite_or_none,
    flange_spacing_mm,
    main_line,
    standard_amplitude_mm,
    steer_curve,
    steering_reach,
)
from tapertread.contact.flange import TREAD_ANGLE_RAD, tread_end
from tapertread.errors import ContactRefused

STEP_MM = 1.0 / 16.0
REACH_MM = 12.0
NEAR_END_MM = 0.5
STRAIGHTER_THAN_M = 5000.0
"""Curves wider than this are run like straight track (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """One wheelset that meets one section.

    Attributes
    ----------
    wheelset, section : str
        Names.
    wheels : WheelsetShape
        As it stands on the section's rails (`turned`: with its right wheel on the left rail).
    track : TrackShape
        Rails, gauge and inclination of the section.
    curve_radius_m : float
        > 0 turns right, facing rising kilometres; infinite is straight.
    turned : bool
        Whether the wheelset stands the other way round.
    """

    wheelset: str
    section: str
    wheels: WheelsetShape
    track: TrackShape
    curve_radius_m: float
    turned: bool = False

    @property
    def straight(self) -> bool:
        """Whether the section is run like straight track."""
        return abs(self.curve_radius_m) > STRAIGHTER_THAN_M


@dataclass(frozen=True, slots=True, kw_only=True)
class Encounter:
    """What one wheelset does on one section.

    Attributes
    ----------
    wheelset, section : str
        Names.
    turned : bool
        Whether the wheelset stands the other way round.
    curve_radius_m : float
        > 0 turns right.
    steering : Steering or None
        In a curve; ``None`` on straight track.
    conicity : float or None
        At `amplitude_mm`; ``None`` where undefined, for the reason in `conicity_reason`.
    amplitude_mm : float
        Amplitude that the clearance asks for.
    line_mm : float or None
        Stable rolling line, > 0 to the right; ``None`` where there is none.
    play_used_share : float or None
        Its distance from the centre as a share of the shift at which the tread ends.
    rail_place_mm, rail_band_mm : dict of str to float
        By side: middle and width of the computed contact on the rail, outward from its axis.
    slope : float
        Change of the available difference with shift at the end of the tread, mm per mm.
    leap_mm : float
        Half of what the difference changes over the last `NEAR_END_MM` of shift on the tread: what
        noise that ends the tread earlier would take, mm.
    problem : str
        Why there is no contact; empty where there is.
    """

    wheelset: str
    section: str
    turned: bool
    curve_radius_m: float
    steering: Steering | None = None
    conicity: float | None = None
    conicity_reason: str = ""
    amplitude_mm: float = 3.0
    clearance_mm: float | None = None
    line_mm: float | None = None
    play_used_share: float | None = None
    rail_place_mm: dict[str, float] | None = None
    rail_band_mm: dict[str, float] | None = None
    slope: float = 0.0
    leap_mm: float = 0.0
    problem: str = ""


def turned_about(wheels: WheelsetShape) -> WheelsetShape:
    """Return the wheelset standing the other way round: left and right wheel change rails."""
    return replace(
        wheels,
        left=wheels.right,
        right=wheels.left,
        left_radius_mm=wheels.right_radius_mm,
        right_radius_mm=wheels.left_radius_mm,
    )


def meet(meeting: Meeting) -> Encounter:
    """Return what one wheelset does on one section; a contact that is refused is its problem."""
    blank = Encounter(
        wheelset=meeting.wheelset,
        section=meeting.section,
        turned=meeting.turned,
        curve_radius_m=meeting.curve_radius_m,
    )
    try:
        table = encounter_table(meeting)
    except ContactRefused as fault:
        return replace(blank, problem=fault.found)
    spacing = flange_spacing_mm(meeting.wheels)
    clearance = None if spacing is None else meeting.track.gauge_mm - spacing
    filled = replace(blank, clearance_mm=clearance)
    return _on_straight(table, filled) if meeting.straight else _in_curve(table, filled)


def meet_all(meetings: Iterable[Meeting]) -> list[Encounter]:
    """Return the encounters of all meetings, in order."""
    return [meet(meeting) for meeting in meetings]


def encounter_table(meeting: Meeting) -> ContactTable:
    """Return the contact table from which an encounter is read.

    Raises
    ------
    ContactRefused
        If the wheelset cannot stand on the track.
    """
    count = round(REACH_MM / STEP_MM)
    return contact_table(
        meeting.wheels,
        meeting.track,
        shifts_mm=np.arange(-count, count + 1) * STEP_MM,
        second_contacts=False,
    )


def _on_straight(table: ContactTable, blank: Encounter) -> Encounter:
    amplitude = 3.0 if blank.clearance_mm is None else standard_amplitude_mm(blank.clearance_mm)
    curve = conicity(table, amplitudes_mm=(amplitude,))
    line = main_line(table)
    centre = 0.0 if line is None else line.shift_mm
    return replace(
        blank,
        conicity=finite_or_none(float(curve.value[0])),
        conicity_reason=curve.reasons[0],
        amplitude_mm=amplitude,
        line_mm=None if line is None else line.shift_mm,
        play_used_share=None if line is None else _play_used(table, line.shift_mm),
        rail_place_mm=_places(table, centre),
        rail_band_mm=dict.fromkeys(
            ("left", "right"),
            contact_bandwidth(table, amplitude_mm=amplitude, line_mm=centre).rail_mm,
        ),
    )


def _in_curve(table: ContactTable, blank: Encounter) -> Encounter:
    reach = steering_reach(table, refine=False)
    way = -1 if blank.curve_radius_m > 0.0 else 1
    steering = on_the_tread(steer_curve(reach, curve_radius_m=blank.curve_radius_m), table, way=way)
    outward = steering.equilibrium_outward_shift_mm
    shift = steering.root_shift_mm if outward is None else outward
    line = main_line(table)
    return replace(
        blank,
        steering=steering,
        line_mm=None if line is None else line.shift_mm,
        rail_place_mm=_places(table, way * shift),
        slope=_slope_at(table, way * steering.tread_shift_mm),
        leap_mm=_leap_before(table, way * steering.tread_shift_mm, way=way),
    )


def on_the_tread(steering: Steering, table: ContactTable, *, way: int) -> Steering:
    """Return the steering with what the tread gives read on the tread.

    A wheelset whose rolling line lies where its flange root takes over starts outward from there;
    what its tread gives then is what it gave just before.
    """
    side = table.side("right" if way > 0 else "left")
    flat = side.contact_angle_rad < TREAD_ANGLE_RAD
    at = int(np.argmin(np.abs(table.shift_mm - way * steering.tread_shift_mm)))
    if flat[at]:
        return steering
    inward = np.flatnonzero(flat[at::-1] if way > 0 else flat[at:])
    if inward.size == 0:
        return steering
    at -= way * int(inward[0])
    given = way * float(table.rolling_radius_difference_mm[at])
    needed = steering.needed_difference_mm
    return replace(
        steering,
        available_tread_mm=given,
        tread_shift_mm=way * float(table.shift_mm[at]),
        flange_free_by_shape=needed <= max(given, 0.0),
        share=1.0 if needed == 0.0 else min(1.0, max(given, 0.0) / needed),
    )


def _leap_before(table: ContactTable, shift_mm: float, *, way: int) -> float:
    """Return half of what the difference changes just before the end of the tread, mm."""
    before = way * (shift_mm - table.shift_mm)
    near = (before >= -1e-9) & (before <= NEAR_END_MM + 1e-9)
    good = table.rolling_radius_difference_mm[near]
    good = good[np.isfinite(good)]
    return 0.5 * float(np.ptp(good)) if good.size else 0.0


def _play_used(table: ContactTable, line_mm: float) -> float:
    way = 1 if line_mm >= 0.0 else -1
    end = table.shift_mm[tread_end(table, way=way, from_mm=0.0)]
    return abs(line_mm) / max(abs(float(end)), STEP_MM)


def _places(table: ContactTable, shift_mm: float) -> dict[str, float]:
    at = int(np.nanargmin(np.where(_stands(table), np.abs(table.shift_mm - shift_mm), np.nan)))
    return {name: float(table.side(name).rail_y_mm[at]) for name in ("left", "right")}


def _stands(table: ContactTable) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    return np.isfinite(table.rolling_radius_difference_mm)


def _slope_at(table: ContactTable, shift_mm: float) -> float:
    at = int(np.argmin(np.abs(table.shift_mm - shift_mm)))
    near = table.rolling_radius_difference_mm[max(at - 8, 0) : at + 9]
    good = near[np.isfinite(near)]
    steps = np.abs(np.diff(good))
    return float(np.median(steps) / STEP_MM) if steps.size else math.nan


def worst_steering(encounters: Sequence[Encounter]) -> Encounter | None:
    """Return the curve in which the treads lack most of what is needed, or ``None``."""
    curves = [one for one in encounters if one.steering is not None]
    return max(
        curves,
        key=lambda one: (
            one.steering.needed_difference_mm - one.steering.available_tread_mm
            if one.steering
            else 0.0
        ),
        default=None,
    )
