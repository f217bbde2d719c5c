"""One wheelset on one track, looked at from every side this room knows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tapertread.contact.conicity import (
    AMPLITUDES_MM,
    ConicityCurve,
    RollingLine,
    conicity,
    neutral_spans_mm,
    nonlinearity_per_mm,
    refined_conicity,
    rolling_lines,
    standard_amplitude_mm,
)
from tapertread.contact.flange import FlangeContact, fine_table, flange_contact
from tapertread.contact.records import ContactTable, Floats, TrackShape, WheelsetShape
from tapertread.contact.rolling import contact_table
from tapertread.contact.sides import flange_spacing_mm
from tapertread.contact.steering import SteeringReach, steering_reach


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """What the shapes of one wheelset and one track do together.

    Attributes
    ----------
    table : ContactTable
        Rolling contact at every shift.
    conicity : ConicityCurve
        Against amplitude, refined.
    lines : tuple of RollingLine
        All rolling lines.
    flange : FlangeContact
        Shifts at which the flange faces bear.
    reach : SteeringReach
        What the shape can give in curves.
    clearance_mm : float or None
        Gauge minus active flange spacing; ``None`` without flanges.
    neutral_mm : tuple of tuple of float
        From and to which shift both wheels roll on equal radii all along, so that nothing steers.
    """

    table: ContactTable
    conicity: ConicityCurve
    lines: tuple[RollingLine, ...]
    flange: FlangeContact
    reach: SteeringReach
    clearance_mm: float | None
    neutral_mm: tuple[tuple[float, float], ...] = ()

    @property
    def standard_amplitude_mm(self) -> float:
        """Amplitude for the single conicity value, from the clearance."""
        return 3.0 if self.clearance_mm is None else standard_amplitude_mm(self.clearance_mm)

    @property
    def standard_conicity(self) -> float:
        """Conicity at the standard amplitude; NaN where undefined."""
        return self.conicity.at(self.standard_amplitude_mm)

    @property
    def nonlinearity_per_mm(self) -> float:
        """Half the change of conicity from 2 to 4 mm, per mm; NaN where undefined."""
        return nonlinearity_per_mm(self.conicity)


def pair_up(
    wheelset: WheelsetShape,
    track: TrackShape,
    *,
    shifts_mm: Floats | None = None,
    yaw_rad: float = 0.0,
    amplitudes_mm: Sequence[float] = AMPLITUDES_MM,
) -> Pairing:
    """Return everything the shapes of a wheelset and a track do together.

    Raises
    ------
    ContactRefused
        If the wheelset cannot stand on the track.
    """
    table = contact_table(wheelset, track, shifts_mm=shifts_mm, yaw_rad=yaw_rad)
    fine = fine_table(table)
    spacing = flange_spacing_mm(wheelset)
    return Pairing(
        table=table,
        conicity=refined_conicity(table, amplitudes_mm=amplitudes_mm),
        lines=rolling_lines(table),
        flange=flange_contact(fine, refine=False),
        reach=steering_reach(fine, refine=False),
        clearance_mm=None if spacing is None else track.gauge_mm - spacing,
        neutral_mm=neutral_spans_mm(fine),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Conicity at 3 mm over a band of gauges or inclinations; arrays of shape (values,)."""

    values: Floats
    conicity: Floats
    tread_difference_mm: Floats


def gauge_sweep(wheelset: WheelsetShape, track: TrackShape, *, gauges_mm: Sequence[float]) -> Band:
    """Return conicity and available tread difference over a band of gauges (mm)."""
    return _sweep(wheelset, [replace(track, gauge_mm=g) for g in gauges_mm], gauges_mm)


def inclination_sweep(
    wheelset: WheelsetShape, track: TrackShape, *, inclinations: Sequence[float]
) -> Band:
    """Return conicity and available tread difference over a band of inclinations (slopes)."""
    return _sweep(wheelset, [replace(track, inclination=i) for i in inclinations], inclinations)


def _sweep(wheelset: WheelsetShape, tracks: Sequence[TrackShape], values: Sequence[float]) -> Band:
    tables = [contact_table(wheelset, track, second_contacts=False) for track in tracks]
    reaches = [steering_reach(table) for table in tables]
    return Band(
        values=np.asarray(values, dtype=np.float64),
        conicity=np.array([conicity(t, amplitudes_mm=(3.0,)).value[0] for t in tables]),
        tread_difference_mm=np.array([min(r.right.tread_mm, r.left.tread_mm) for r in reaches]),
    )


def finite_or_none(value: float | None) -> float | None:
    """Return a number, or ``None`` for NaN, infinity and ``None``: what JSON may carry."""
    return None if value is None or not math.isfinite(value) else value
