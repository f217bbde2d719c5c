"""What there is, as frozen records: vehicles, wheelsets, sections of line, what was found on them.

Every record carries measured facts or says that they are missing (``None``); none of them
computes. Kilometres are those of the line's own posts; `route` turns them into distance.
"""

from __future__ import annotations

from typing import Literal

import msgspec

Known = Literal["measured", "nominal"]
Side = Literal["left", "right"]


class Record(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of all survey records: immutable, keyword-only, no unknown fields."""


class Campaign(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One round of measuring, with its date (ISO, ``2031-04-02``) and device."""

    campaign: str
    date: str
    device: str = ""
    repeatability_mm: float | None = None


class Vehicle(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A vehicle of a fleet, metric, mass and loads as run."""

    vehicle: str
    fleet: str
    kind: Literal["coach", "multiple-unit", "locomotive", "freight", "metro", "tram"]
    orientation: Literal["known", "reversible", "unknown"] = "unknown"
    maximum_speed_kmh: float | None = None
    axle_load_kn: float | None = None
    powered: bool = False
    wheel_design: str
    bogie_wheelbase_m: float | None = None


class Wheelset(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One wheelset as measured in one campaign; sides as seen facing its vehicle's leading end."""

    wheelset: str
    vehicle: str
    axle: int
    campaign: str
    left_diameter_mm: float | None = None
    right_diameter_mm: float | None = None
    diameter_uncertainty_mm: float | None = None
    back_to_back_mm: float | None = None
    back_to_back_uncertainty_mm: float | None = None
    left_rim_thickness_mm: float | None = None
    right_rim_thickness_mm: float | None = None
    rim_thickness_uncertainty_mm: float | None = None
    wheel_grade: str = ""
    distance_since_turning_km: float | None = None


class Section(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A short length of line where both rails were measured; facing rising kilometres.

    ``stretch`` counts the runs of posts between jumps from 0; it is needed only where a long
    kilometre makes ``km`` exist twice.
    """

    section: str
    line: str
    track: str
    km: float
    stretch: int | None = None
    campaign: str
    rail_design: str
    gauge_mm: float | None = None
    gauge_known: Known = "nominal"
    gauge_load: Literal["static", "loaded", "unknown"] = "unknown"
    gauge_uncertainty_mm: float | None = None
    inclination: str = "1:40"
    inclination_known: Known = "nominal"
    frame: Literal["rail-axis", "track-plane"] = "rail-axis"
    left_grade: str = ""
    right_grade: str = ""
    left_hardness_hb: float | None = None
    right_hardness_hb: float | None = None


class RoutePiece(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A length of one track with one curvature, facing rising kilometres.

    ``radius_m`` > 0 turns right, ``inf`` is straight; within a transition the curvature runs
    linearly from that of the piece before to that of the piece after.
    """

    line: str
    track: str
    from_km: float
    to_km: float
    kind: Literal["straight", "transition", "curve"]
    radius_m: float = float("inf")
    cant_mm: float = 0.0
    speed_kmh: float
    rising_share: float | None = None
    friction_state: str = "dry"
    tonnage_mt_per_year: float | None = None
    gauge_mm: float = 1435.0


class KilometreJump(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A place where the posts jump: at ``km`` the line continues as ``continues_km``."""

    line: str
    track: str
    km: float
    continues_km: float


class Service(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A share of a fleet's running that happens on a line (0..1), with its top speed there."""

    fleet: str
    line: str
    share: float
    speed_kmh: float | None = None


class Inspection(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A finding of inspection on a wheel or a rail."""

    subject: Literal["wheel", "rail"]
    asset: str
    side: Side
    campaign: str
    kind: Literal["crack", "squat", "corrugation", "flat", "out-of-round", "shelling", "other"]
    length_mm: float | None = None
    depth_mm: float | None = None
    note: str = ""


class Treatment(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A past turning of a wheelset or grinding of a section."""

    kind: Literal["turning", "grinding"]
    asset: str
    date: str
    removed_mm: float | None = None
    note: str = ""


class Lubricator(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A lubricator and its state when last seen; ``stretch`` as for a section."""

    lubricator: str
    line: str
    track: str
    km: float
    stretch: int | None = None
    kind: Literal["gauge-face", "top-of-rail"]
    state: Literal["working", "empty", "broken", "unknown"] = "unknown"


class ContactBand(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The shiny band seen on a rail: centre from the rail axis (> 0 to the field), width; mm."""

    section: str
    side: Side
    campaign: str
    centre_mm: float
    width_mm: float


class FrictionReading(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A tribometer reading on one rail."""

    section: str
    side: Side
    campaign: str
    place: Literal["top", "gauge-face"]
    friction: float
