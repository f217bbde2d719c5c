"""Equivalent conicity: the cone that would weave with the wavelength of the real pair.

The wheelset rolls without slip: ``y'' = -difference(y) / (e r0)``, with e the distance of the tape
circles and r0 the mean radius [en15302-2021]; how its period is found is told in `wave`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.flange import FLANGE_ANGLE_RAD
from tapertread.contact.records import ContactTable, Floats, numbers_or_none
from tapertread.contact.rolling import contact_table
from tapertread.contact.wave import Well

if TYPE_CHECKING:
    import polars as pl

AMPLITUDES_MM = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
REFINEMENT_TOLERANCE = 0.005
FINEST_STEP_MM = 1.0 / 128.0
HARMONIC_POINTS = 720
NEUTRAL_MM, NEUTRAL_REACH_MM = 0.01, 1.0
NO_DIFFERENCE_MM, NEUTRAL_SPAN_MM = 1e-5, 1.0
"""Radii this equal over at least this many millimetres of shift make a neutral span."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RollingLine:
    """A shift at which both wheels roll on equal radii.

    Attributes
    ----------
    shift_mm : float
        Shift of the axle centre, > 0 to the right.
    stable : bool
        Whether a wheelset pushed off this line steers back to it.
    on_flange : bool
        Whether a flange face bears there: no line to weave about.
    """

    shift_mm: float
    stable: bool
    on_flange: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ConicityCurve:
    """Equivalent conicity against amplitude.

    Attributes
    ----------
    amplitude_mm : ndarray, shape (amplitudes,)
        Half peak to peak of the wave about the rolling line.
    value : ndarray, shape (amplitudes,)
        By the period of the wave; NaN where undefined.
    harmonic : ndarray, shape (amplitudes,)
        By harmonic linearisation; NaN where undefined.
    reasons : tuple of str
        Why a value is undefined, empty where it is not; one per amplitude.
    line_mm : float
        Shift of the rolling line; NaN if there is no stable one.
    """

    amplitude_mm: Floats
    value: Floats
    harmonic: Floats
    reasons: tuple[str, ...]
    line_mm: float

    def to_frame(self) -> pl.DataFrame:
        """Return a table with one row for each amplitude; null where undefined."""
        import polars as pl  # noqa: PLC0415  heavy, and few results become tables

        columns = {
            "amplitude_mm": self.amplitude_mm,
            "value": self.value,
            "harmonic": self.harmonic,
            "reason": list(self.reasons),
        }
        return pl.DataFrame(columns).fill_nan(None)

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON; ``None`` where undefined, with the reason."""
        return {
            "amplitude_mm": numbers_or_none(self.amplitude_mm),
            "value": numbers_or_none(self.value),
            "harmonic": numbers_or_none(self.harmonic),
            "reasons": list(self.reasons),
            "line_mm": None if math.isnan(self.line_mm) else self.line_mm,
        }

    def at(self, amplitude_mm: float) -> float:
        """Return the value at an amplitude (mm), linear between computed ones; NaN if undefined."""
        return float(np.interp(amplitude_mm, self.amplitude_mm, self.value))


def rolling_lines(table: ContactTable) -> tuple[RollingLine, ...]:
    """Return every shift where the rolling radius difference is zero, with its stability.

    In a neutral span every shift is such a one and none steers back; its ends are no lines, but
    where a flange face bears just beyond.
    """
    shift, difference = _finite(table)
    steepest = np.maximum(table.right.contact_angle_rad, table.left.contact_angle_rad)
    steep = steepest[np.isfinite(table.rolling_radius_difference_mm)] > FLANGE_ANGLE_RAD
    neutral = _in_spans(shift, neutral_spans_mm(table))
    return tuple(
        RollingLine(
            shift_mm=at,
            stable=bool(difference[i + 1] > difference[i]),
            on_flange=bool(steep[i] or steep[i + 1]),
        )
        for i, at in _zeros(shift, difference)
        if steep[i] or steep[i + 1] or not (neutral[i] or neutral[i + 1])
    )


def neutral_spans_mm(table: ContactTable) -> tuple[tuple[float, float], ...]:
    """Return from and to which shift both wheels roll on equal radii all along, mm."""
    shift, difference = _finite(table)
    even = np.concatenate(([False], np.abs(difference) < NO_DIFFERENCE_MM, [False]))
    ends = np.nonzero(np.diff(even.astype(np.int8)))[0].reshape(-1, 2)
    spans = ((float(shift[first]), float(shift[stop - 1])) for first, stop in ends)
    return tuple((low, high) for low, high in spans if high - low >= NEUTRAL_SPAN_MM)


def _in_spans(shift: Floats, spans: Sequence[tuple[float, float]]) -> NDArray[np.bool_]:
    """Return which shifts lie in one of the spans, ends included."""
    inside = np.zeros(shift.size, dtype=np.bool_)
    for low, high in spans:
        inside |= (shift >= low) & (shift <= high)
    return inside


def main_line(table: ContactTable) -> RollingLine | None:
    """Return the stable rolling line nearest to the centre that no flange leads, or ``None``."""
    free = [line for line in rolling_lines(table) if line.stable and not line.on_flange]
    return min(free, key=lambda line: abs(line.shift_mm), default=None)


def _finite(table: ContactTable) -> tuple[Floats, Floats]:
    difference = table.rolling_radius_difference_mm
    good = np.isfinite(difference)
    return table.shift_mm[good], difference[good]


def _zeros(shift: Floats, difference: Floats) -> list[tuple[int, float]]:
    """Return for each zero the index before it and its shift."""
    found: list[tuple[int, float]] = []
    for i in np.nonzero(np.sign(difference[:-1]) != np.sign(difference[1:]))[0]:
        low, high = difference[i], difference[i + 1]
        at = float(shift[i] - low * (shift[i + 1] - shift[i]) / (high - low))
        if not (found and abs(found[-1][1] - at) < 1e-9):
            found.append((int(i), at))
    return found


def conicity(
    table: ContactTable, *, amplitudes_mm: Sequence[float] = AMPLITUDES_MM
) -> ConicityCurve:
    """Return equivalent conicity by the wave's period and by harmonic linearisation.

    With period L the value is ``2 e r0 (pi / L)^2`` [en15302-2021]. It is undefined where no
    stable rolling line exists, where the wave would cross another rolling line (the wheelset does
    not come back), and where it would leave the shifts with stable contact.
    """
    amplitudes = np.asarray(amplitudes_mm, dtype=np.float64)
    line = main_line(table)
    if line is None:
        why = f"not assessed: {_without_line(table)}"
        empty = np.full(amplitudes.size, np.nan)
        return ConicityCurve(
            amplitude_mm=amplitudes,
            value=empty,
            harmonic=empty,
            reasons=(why,) * amplitudes.size,
            line_mm=math.nan,
        )
    well = Well.of(*_finite(table), line=line.shift_mm)
    scale = table.wheelset.tape_circle_distance_mm * table.wheelset.mean_radius_mm
    pairs = [well.conicity(amplitude, scale=scale) for amplitude in amplitudes]
    return ConicityCurve(
        amplitude_mm=amplitudes,
        value=np.array([value for value, _ in pairs]),
        harmonic=np.array([_harmonic(table, line.shift_mm, a) for a in amplitudes]),
        reasons=tuple(reason for _, reason in pairs),
        line_mm=line.shift_mm,
    )


def _without_line(table: ContactTable) -> str:
    """Return why a pairing has no stable rolling line short of its flanges."""
    shift, difference = _finite(table)
    if np.abs(difference[np.abs(shift) <= NEUTRAL_REACH_MM]).max(initial=0.0) < NEUTRAL_MM:
        return "both wheels roll on equal radii about the centre, so that nothing steers"
    if any(not line.on_flange for line in rolling_lines(table)):
        return "diverges, there is no stable rolling line"
    return "a flange leads, there is no rolling line short of it"


def refined_conicity(
    table: ContactTable, *, amplitudes_mm: Sequence[float] = AMPLITUDES_MM
) -> ConicityCurve:
    """Return `conicity` of the rigid curve, its shifts halved until it moves by less than 0.5 %.

    The table's own shifts only say how far to go; the result does not depend on their step.
    """
    reach = float(np.abs(table.shift_mm).max())
    step = 0.125
    curve = conicity(_finer(table, reach, step), amplitudes_mm=amplitudes_mm)
    while step > FINEST_STEP_MM:
        step *= 0.5
        finer = conicity(_finer(table, reach, step), amplitudes_mm=amplitudes_mm)
        moved = np.abs(finer.value - curve.value) / np.abs(finer.value)
        same = np.isnan(finer.value) == np.isnan(curve.value)
        curve = finer
        if bool(same.all()) and bool((moved[np.isfinite(moved)] < REFINEMENT_TOLERANCE).all()):
            break
    return curve


def _finer(table: ContactTable, reach_mm: float, step_mm: float) -> ContactTable:
    count = round(reach_mm / step_mm)
    return contact_table(
        table.wheelset,
        table.track,
        shifts_mm=np.arange(-count, count + 1) * step_mm,
        yaw_rad=table.yaw_rad,
        grid_mm=table.grid_mm,
        second_contacts=False,
    )


def _harmonic(table: ContactTable, line_mm: float, amplitude_mm: float) -> float:
    """Return the first harmonic's conicity about the line, ``mean(difference sin) / A``."""
    angle = (np.arange(HARMONIC_POINTS) + 0.5) * 2.0 * math.pi / HARMONIC_POINTS
    shift, difference = _finite(table)
    at = line_mm + amplitude_mm * np.sin(angle)
    if at.min() < shift[0] or at.max() > shift[-1]:
        return math.nan
    return float(np.mean(np.interp(at, shift, difference) * np.sin(angle)) / amplitude_mm)


def standard_amplitude_mm(clearance_mm: float) -> float:
    """Return the amplitude for one single value from the clearance gauge - flange spacing (mm).

    3 mm from 7 mm of clearance on, ``(clearance - 1) / 2`` from 5 to 7 mm, 2 mm below
    [tsi-locpas-2014].
    """
    if clearance_mm >= 7.0:
        return 3.0
    if clearance_mm >= 5.0:
        return 0.5 * (clearance_mm - 1.0)
    return 2.0


def nonlinearity_per_mm(curve: ConicityCurve) -> float:
    """Return half the change of conicity from 2 to 4 mm, per mm [polach-2010]; NaN if undefined."""
    return 0.5 * (curve.at(4.0) - curve.at(2.0))
