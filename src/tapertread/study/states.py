"""From the survey's records and measured outlines to wheelsets and sections that can meet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from tapertread.contact import TrackShape, WheelsetShape
from tapertread.contact.records import GaugeRule
from tapertread.railway import RoutePiece, Section, Vehicle, Wheelset
from tapertread.railway.inclination import inclination_slope
from tapertread.shapes.inspect import MeasuredOutline
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Outline, Side
from tapertread.shapes.wheels.wheelset import Given, gauge_wheelset

SIDES: tuple[Side, Side] = ("left", "right")
Sides = Mapping[Side, MeasuredOutline | None]

NO_DIAMETER = "the wheel diameters were not measured, and they are not in an outline"
NO_BACK_TO_BACK = "the back-to-back distance was not measured"


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """What the campaign before found on one wheelset or section: when, and its measures."""

    campaign: str
    date: str
    measures: Mapping[str, Measured]
    km: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelsetOnHand:
    """A wheelset with its vehicle and both measured outlines.

    Attributes
    ----------
    record, vehicle : Wheelset, Vehicle
        What the survey says of it.
    sides : mapping of side to MeasuredOutline or None
        ``None`` where no outline was measured.
    refused : mapping of side to str
        Why an outline that was measured is none at all.
    measures : dict of str to Measured
        Of both wheels (``.left``, ``.right``) and of the wheelset.
    earlier : Earlier or None
        The campaign before, where there was one.
    """

    record: Wheelset
    vehicle: Vehicle
    sides: Sides
    refused: Mapping[Side, str] = field(default_factory=dict)
    measures: Mapping[str, Measured] = field(default_factory=dict)
    earlier: Earlier | None = None

    @property
    def name(self) -> str:
        """Name of the wheelset."""
        return self.record.wheelset

    @property
    def mean_diameter_mm(self) -> float | None:
        """Mean diameter, or the one that is known, mm."""
        known = [
            one
            for one in (self.record.left_diameter_mm, self.record.right_diameter_mm)
            if one is not None
        ]
        return sum(known) / len(known) if known else None

    def usable(self, side: Side) -> Outline | None:
        """Return the aligned outline of a side, or ``None`` if missing or not to be trusted."""
        return _usable(self.sides[side])

    def why_no_shape(self) -> str:
        """Return why this wheelset cannot meet a track; empty if it can."""
        for side in SIDES:
            if self.usable(side) is None:
                return _why_not(self.sides[side], self.refused.get(side), side=side)
        if self.record.left_diameter_mm is None or self.record.right_diameter_mm is None:
            return NO_DIAMETER
        return "" if self.record.back_to_back_mm is not None else NO_BACK_TO_BACK

    def shape(self) -> WheelsetShape | None:
        """Return the wheelset as the contact search needs it, or ``None`` (`why_no_shape`)."""
        left, right = self.usable("left"), self.usable("right")
        one, other = self.record.left_diameter_mm, self.record.right_diameter_mm
        apart = self.record.back_to_back_mm
        if left is None or right is None or one is None or other is None or apart is None:
            return None
        return WheelsetShape(
            left=left,
            right=right,
            left_radius_mm=0.5 * one,
            right_radius_mm=0.5 * other,
            back_to_back_mm=apart - sum(worn_back_mm(self.sides[side]) for side in SIDES),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionOnHand:
    """A section of line with its piece of route and both measured outlines."""

    record: Section
    piece: RoutePiece | None
    sides: Sides
    refused: Mapping[Side, str] = field(default_factory=dict)
    curve_radius_m: float = math.inf
    distance_m: float | None = None
    measures: Mapping[str, Measured] = field(default_factory=dict)
    earlier: Earlier | None = None

    @property
    def name(self) -> str:
        """Name of the section."""
        return self.record.section

    @property
    def speed_kmh(self) -> float | None:
        """Line speed, km/h."""
        return None if self.piece is None else self.piece.speed_kmh

    @property
    def gauge_mm(self) -> float | None:
        """Gauge as measured, else as the section or its route names it."""
        if self.record.gauge_mm is not None:
            return self.record.gauge_mm
        return None if self.piece is None else self.piece.gauge_mm

    def why_no_shape(self) -> str:
        """Return why no wheelset can meet this section; empty if one can."""
        for side in SIDES:
            if _usable(self.sides[side]) is None:
                return _why_not(self.sides[side], self.refused.get(side), side=side)
        return "" if self.gauge_mm is not None else "neither section nor route names a gauge"

    def track(self, *, gauge_rule: GaugeRule) -> TrackShape | None:
        """Return the track as the contact search needs it, or ``None`` (`why_no_shape`)."""
        left, right = (as_laid(self.sides[side]) for side in SIDES)
        if left is None or right is None or self.gauge_mm is None:
            return None
        return TrackShape(
            left=left,
            right=right,
            gauge_mm=self.gauge_mm,
            inclination=inclination_slope(self.record.inclination),
            gauge_rule=gauge_rule,
        )


def _usable(measured: MeasuredOutline | None) -> Outline | None:
    if measured is None or measured.trust == "refused":
        return None
    return measured.outline


def worn_back_mm(measured: MeasuredOutline | None) -> float:
    """Return what check rails took from a flange back, mm.

    Outlines stand by the back as it was new, so that a back-to-back reading between worn backs is
    too wide by as much.
    """
    trap = None if measured is None else measured.trap("flange-back-worn")
    return 0.0 if trap is None or trap.size_mm is None else trap.size_mm


def as_laid(measured: MeasuredOutline | None) -> Outline | None:
    """Return a rail as it lies in track, or ``None`` if missing or not to be trusted.

    Points given in the track plane hold how the rail leans; aligning has turned that out by fitting
    parts that may be short or noisy, so it is turned in again. Others are upright, and the
    section's inclination is still to be applied.
    """
    upright = _usable(measured)
    if upright is None or measured is None or measured.raw.frame != "track-plane":
        return upright
    return replace(upright.moved(turn_rad=-measured.aligned.turn_rad), frame="track-plane")


def lean_of(measured: MeasuredOutline | None) -> Measured:
    """Return how far a rail leans toward the track centre by its own outline, mrad."""
    if measured is None or measured.raw.frame != "track-plane":
        return Measured.missing("mrad", "the outline is not given in the track plane")
    turn = measured.aligned.turn
    if not turn.anchored or not math.isfinite(turn.uncertainty):
        return Measured.missing("mrad", turn.reason or "nothing unworn shows how the rail leans")
    return Measured.of(-1000.0 * measured.aligned.turn_rad, "mrad", datum=1000.0 * turn.uncertainty)


def _why_not(measured: MeasuredOutline | None, refused: str | None, *, side: Side) -> str:
    if measured is not None:
        return f"the {side} outline cannot be trusted ({measured.why})"
    return (
        f"the {side} outline is refused ({refused})"
        if refused
        else (f"no {side} outline was measured")
    )


def wheelset_measures(record: Wheelset, sides: Sides) -> dict[str, Measured]:
    """Return the measures of both wheels and of the wheelset, mm and degrees."""
    measures = {
        f"{name}.{side}": one for side in SIDES for name, one in _measures_of(sides[side]).items()
    }
    unknown = Measured.missing("mm", "the outline of a wheel is missing")
    thicknesses = [measures.get(f"flange_thickness_mm.{side}", unknown) for side in SIDES]
    diameters = [
        Given(value_mm=one, uncertainty_mm=record.diameter_uncertainty_mm)
        for one in (record.left_diameter_mm, record.right_diameter_mm)
    ]
    whole = gauge_wheelset(
        thicknesses=(thicknesses[0], thicknesses[1]),
        diameters=(diameters[0], diameters[1]),
        back_to_back=Given(
            value_mm=record.back_to_back_mm, uncertainty_mm=record.back_to_back_uncertainty_mm
        ),
        traps=[trap for one in sides.values() if one is not None for trap in one.traps],
    )
    return {**measures, **whole.measured()}


def section_measures(record: Section, sides: Sides) -> dict[str, Measured]:
    """Return the measures of both rails and the gauge, mm, percent and degrees."""
    measures = {
        f"{name}.{side}": one for side in SIDES for name, one in _measures_of(sides[side]).items()
    }
    if record.gauge_known == "nominal":
        measures["gauge_mm"] = Measured.missing("mm", "the gauge is only nominal, not measured")
    else:
        measures["gauge_mm"] = _given(
            record.gauge_mm, record.gauge_uncertainty_mm, "the gauge was not measured"
        )
    return measures


def _measures_of(measured: MeasuredOutline | None) -> Mapping[str, Measured]:
    if measured is None:
        return {}
    return measured.measures.measured()


def _given(value: float | None, uncertainty: float | None, why_not: str) -> Measured:
    if value is None:
        return Measured.missing("mm", why_not)
    if uncertainty is None:
        return Measured(value=value, unit="mm")
    return Measured.of(value, "mm", reading=uncertainty)
