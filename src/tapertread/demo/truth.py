"""The truth of an invented railway: shapes, wear, measures and what was planted where."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from tapertread.demo.plan import Side
from tapertread.demo.rails import RailWear
from tapertread.demo.wheels import WheelWear
from tapertread.shapes.outline import Outline

Event = Literal["", "turned", "ground", "renewed"]
"""What was done to an asset since the campaign before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelTruth:
    """One wheel as it really was in one campaign.

    Attributes
    ----------
    design : str
    wear : WheelWear
    outline : Outline
        In the design's axes.
    diameter_mm, rim_thickness_mm : float
        At the tape line.
    measures : dict of str to float
        By glossary name, mm or degrees.
    """

    design: str
    wear: WheelWear
    outline: Outline
    diameter_mm: float
    rim_thickness_mm: float
    measures: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelsetTruth:
    """One wheelset as it really was in one campaign; back to back between unworn flange backs."""

    wheelset: str
    vehicle: str
    campaign: str
    left: WheelTruth
    right: WheelTruth
    back_to_back_mm: float
    distance_km: float
    event: Event = ""

    @property
    def diameter_difference_mm(self) -> float:
        """Right minus left, mm."""
        return self.right.diameter_mm - self.left.diameter_mm

    @property
    def active_flange_spacing_mm(self) -> float:
        """Back to back and both flange thicknesses, mm."""
        return self.back_to_back_mm + sum(
            wheel.measures["flange_thickness_mm"] for wheel in (self.left, self.right)
        )

    def wheel(self, side: Side) -> WheelTruth:
        """Return the wheel of a side."""
        return self.left if side == "left" else self.right


@dataclass(frozen=True, slots=True, kw_only=True)
class RailTruth:
    """One rail as it really was in one campaign, in its design's upright axes.

    ``role`` is where it lies: ``outer`` or ``inner`` rail of a curve, or ``straight``.
    """

    design: str
    role: Literal["outer", "inner", "straight"]
    wear: RailWear
    outline: Outline
    carried_mt: float
    measures: dict[str, float]
    event: Event = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTruth:
    """One section of line as it really was in one campaign."""

    section: str
    track: str
    campaign: str
    km: float
    curvature_per_m: float
    gauge_mm: float
    inclination: float
    left: RailTruth
    right: RailTruth

    def rail(self, side: Side) -> RailTruth:
        """Return the rail of a side."""
        return self.left if side == "left" else self.right


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One fault that was planted on purpose.

    Attributes
    ----------
    trap : str
        Name of the trap, or ``missing-…`` for data left out.
    asset : str
        Wheelset, section, or track for a drift of kilometres.
    side : str
        ``left``, ``right``, or empty for a whole asset.
    campaign : str
    size : float
    unit : str
        How large the fault is.
    """

    trap: str
    asset: str
    campaign: str
    side: str = ""
    size: float = 0.0
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoTruth:
    """Everything that is true of one written survey.

    Attributes
    ----------
    which, seed : str, int
        What was asked for; the same two give the same files.
    folder : Path
        Where the survey was written.
    campaigns : tuple of str
        The earlier first.
    wheelsets, sections : dict
        By (name, campaign).
    planted : tuple of Planted
    """

    which: str
    seed: int
    folder: Path
    campaigns: tuple[str, str]
    wheelsets: dict[tuple[str, str], WheelsetTruth]
    sections: dict[tuple[str, str], SectionTruth]
    planted: tuple[Planted, ...]

    def planted_on(self, asset: str, *, campaign: str, side: str = "") -> tuple[Planted, ...]:
        """Return what was planted on one outline, what lies on its whole asset included."""
        return tuple(
            one
            for one in self.planted
            if one.asset == asset and one.campaign == campaign and one.side in ("", side)
        )

    def to_dict(self) -> dict[str, object]:
        """Return the truth without outlines as plain values for JSON."""
        return {
            "invented": True,
            "which": self.which,
            "seed": self.seed,
            "campaigns": list(self.campaigns),
            "wheelsets": [_wheelset_dict(one) for one in self.wheelsets.values()],
            "sections": [_section_dict(one) for one in self.sections.values()],
            "planted": [asdict(one) for one in self.planted],
        }


def _wheelset_dict(one: WheelsetTruth) -> dict[str, object]:
    return {
        "wheelset": one.wheelset,
        "vehicle": one.vehicle,
        "campaign": one.campaign,
        "event": one.event,
        "back_to_back_mm": one.back_to_back_mm,
        "active_flange_spacing_mm": one.active_flange_spacing_mm,
        "diameter_difference_mm": one.diameter_difference_mm,
        "distance_km": one.distance_km,
        **{side: _wheel_dict(one.wheel(side)) for side in _SIDES},
    }


def _wheel_dict(one: WheelTruth) -> dict[str, object]:
    return {
        "design": one.design,
        "diameter_mm": one.diameter_mm,
        "rim_thickness_mm": one.rim_thickness_mm,
        "wear": asdict(one.wear),
        **one.measures,
    }


def _section_dict(one: SectionTruth) -> dict[str, object]:
    return {
        "section": one.section,
        "track": one.track,
        "campaign": one.campaign,
        "km": one.km,
        "curvature_per_m": one.curvature_per_m,
        "gauge_mm": one.gauge_mm,
        "inclination": one.inclination,
        **{side: _rail_dict(one.rail(side)) for side in _SIDES},
    }


def _rail_dict(one: RailTruth) -> dict[str, object]:
    return {
        "design": one.design,
        "role": one.role,
        "event": one.event,
        "carried_mt": one.carried_mt,
        "wear": asdict(one.wear),
        **one.measures,
    }


_SIDES: tuple[Side, Side] = ("left", "right")
