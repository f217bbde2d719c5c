"""The plan of an invented railway, as the data files ``data/demo/*.toml`` state it.

A plan holds choices, never results: what was laid, what runs, which wheelsets have which habit,
what was maintained and what the devices got wrong.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Literal

import msgspec

from tapertread.errors import WrongUsage

Which = Literal["main", "us"]
Side = Literal["left", "right"]


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of every part of a plan: immutable, keyword-only, no unknown keys."""


class CampaignPlan(Part, frozen=True, kw_only=True):
    """One round of measuring."""

    campaign: str
    date: str
    device: str
    repeatability_mm: float


class DevicePlan(Part, frozen=True, kw_only=True):
    """How a device measures: point spacing, noise, order of points, and where its origin lies."""

    measures: Literal["wheel", "rail"]
    step_mm: float
    sigma_mm: float
    correlation_mm: float
    order: Literal["as-drawn", "reversed", "two-runs", "shuffled"]
    density_scatter: float = 0.0
    origin_mm: tuple[float, float] = (0.0, 0.0)
    origin_scatter_mm: float = 0.0
    tilt_deg: float = 0.0
    whole_section: bool = False
    form: Literal["plain", "semicolon"] = "plain"
    frame: Literal["rail-axis", "track-plane"] = "rail-axis"


class TrackPlan(Part, frozen=True, kw_only=True):
    """One track of the line between two posts."""

    track: str
    from_km: float
    to_km: float
    tonnage_mt_per_year: float
    rising_share: float


class JumpPlan(Part, frozen=True, kw_only=True):
    """A place where the posts jump."""

    track: str
    km: float
    continues_km: float


class ZonePlan(Part, frozen=True, kw_only=True):
    """Speed on straights from a post onward."""

    from_km: float
    speed_kmh: float


class CurvePlan(Part, frozen=True, kw_only=True):
    """A curve from the start of its first transition; ``radius_m`` > 0 turns right."""

    id: str
    km: float
    radius_m: float
    length_m: float
    transition_m: float
    cant_mm: float
    speed_kmh: float


class SectionPlan(Part, frozen=True, kw_only=True):
    """A place where both rails are measured; ``laid_mt`` carried before the first campaign."""

    id: str
    km: float
    laid_mt: float
    gauge_mm: float
    track: str = "1"
    rail: str = "60E1"
    grade: str = "R260"
    inclination: str = "1:40"
    true_inclination: float | None = None
    gauge_known: Literal["measured", "nominal"] = "measured"
    gauge_load: Literal["static", "loaded"] = "static"
    device: str = "train"
    lubricated: bool = False
    crushed: float = 1.0
    shoulder_mm: float = 0.0
    note: str = ""


class HabitPlan(Part, frozen=True, kw_only=True):
    """A way of wearing, mm per 100,000 km; ``lean`` > 0 wears the left flange more."""

    tread_mm: float
    flange_mm: float
    hollow: float = 0.0
    lean: float = 0.0
    face_deg: float = 75.0
    lip_mm: float = 0.0


class FleetPlan(Part, frozen=True, kw_only=True):
    """What the vehicles of a fleet have in common."""

    maximum_speed_kmh: float
    axle_load_kn: float
    bogie_wheelbase_m: float
    wheel_grade: str
    back_to_back_mm: float
    rim_thickness_mm: float
    share: float
    speed_kmh: float
    habit: str
    device: str


class VehiclePlan(Part, frozen=True, kw_only=True):
    """A vehicle of four wheelsets."""

    id: str
    fleet: str
    design: str
    distance_km: float
    yearly_km: float
    diameter_mm: float
    kind: Literal["coach", "multiple-unit", "freight"] = "coach"
    powered: bool = False
    habit: str = ""
    orientation: Literal["known", "reversible", "unknown"] = "unknown"


class WheelsetPlan(Part, frozen=True, kw_only=True):
    """What sets one wheelset apart from its vehicle; the difference is right minus left."""

    id: str
    note: str
    habit: str = ""
    distance_km: float | None = None
    diameter_difference_mm: float = 0.0
    flange_back_mm: float = 0.0


class MaintenancePlan(Part, frozen=True, kw_only=True):
    """What was done between the campaigns."""

    turned: tuple[str, ...]
    turned_on: str
    ground: tuple[str, ...]
    ground_on: str
    grinding_mm: float
    renewed: tuple[tuple[str, Side], ...] = ()
    renewed_on: str = ""


class FaultPlan(Part, frozen=True, kw_only=True):
    """What a device, a worn datum or a clerk got wrong, where, and by how much."""

    trap: str
    asset: str
    campaign: str
    side: Side | None = None
    size: float = 0.0
    unit: str = ""
    from_km: float = 0.0


class LubricatorPlan(Part, frozen=True, kw_only=True):
    """A lubricator beside track 1."""

    id: str
    km: float
    kind: Literal["gauge-face", "top-of-rail"]
    state: Literal["working", "empty", "broken", "unknown"]


class InspectionPlan(Part, frozen=True, kw_only=True):
    """What an inspector wrote down."""

    subject: Literal["wheel", "rail"]
    asset: str
    side: Side
    campaign: str
    kind: Literal["crack", "squat", "corrugation", "flat", "out-of-round", "shelling", "other"]
    length_mm: float | None = None
    depth_mm: float | None = None
    note: str = ""


class OverridePlan(Part, frozen=True, kw_only=True):
    """A limit of this railway's own rules."""

    id: str
    value: float
    edition: str
    why: str


class Plan(Part, frozen=True, kw_only=True):
    """The whole plan of one invented railway."""

    title: str
    units: Literal["metric", "us"]
    limits: tuple[str, ...]
    gauge_rule: Literal["smallest-0-14-mm", "at-five-eighths-inch"]
    seed: int
    line: str
    gauge_mm: float
    note: str
    campaign: tuple[CampaignPlan, CampaignPlan]
    device: dict[str, DevicePlan]
    track: tuple[TrackPlan, ...]
    zone: tuple[ZonePlan, ...]
    curve: tuple[CurvePlan, ...]
    section: tuple[SectionPlan, ...]
    habit: dict[str, HabitPlan]
    fleet: dict[str, FleetPlan]
    vehicle: tuple[VehiclePlan, ...]
    wheelset: tuple[WheelsetPlan, ...]
    maintenance: MaintenancePlan
    fault: tuple[FaultPlan, ...]
    jump: tuple[JumpPlan, ...] = ()
    lubricator: tuple[LubricatorPlan, ...] = ()
    inspection: tuple[InspectionPlan, ...] = ()
    override: tuple[OverridePlan, ...] = ()

    @property
    def campaigns(self) -> tuple[str, str]:
        """Names of the two campaigns, the earlier first."""
        return self.campaign[0].campaign, self.campaign[1].campaign

    def faults_of(
        self, asset: str, *, campaign: str, side: Side | None = None
    ) -> tuple[FaultPlan, ...]:
        """Return the faults planted on one outline, or on a whole asset where `side` is none."""
        return tuple(
            fault
            for fault in self.fault
            if (fault.asset, fault.campaign, fault.side) == (asset, campaign, side)
        )

    def metal_mm(self, trap: str, asset: str, *, campaign: str, side: Side) -> float:
        """Return how much metal (mm) a fault of this name adds to one wheel or rail."""
        faults = self.faults_of(asset, campaign=campaign, side=side)
        return sum(fault.size for fault in faults if fault.trap == trap)


@cache
def read_plan(which: Which) -> Plan:
    """Return the plan ``main`` or ``us``.

    Raises
    ------
    WrongUsage
        If there is no plan of this name.
    """
    folder = files("tapertread.data").joinpath("demo")
    known = sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml"))
    if which not in known:
        raise WrongUsage(f"no demo railway named {which!r}; there are {', '.join(known)}")
    return msgspec.toml.decode(folder.joinpath(f"{which}.toml").read_bytes(), type=Plan)
