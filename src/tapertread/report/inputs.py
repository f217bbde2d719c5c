"""What the report asks of an assessment: names of attributes, nothing about how they came to be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.conicity import RollingLine
from tapertread.contact.flange import FlangeContact
from tapertread.contact.records import ContactTable
from tapertread.contact.steering import Steering
from tapertread.limits.verdicts import Limit, Word
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Outline
from tapertread.study.records import Finding
from tapertread.units import UnitSystem

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Designs:
    """Design outlines to draw behind worn ones; any may be missing."""

    left_wheel: Outline | None = None
    right_wheel: Outline | None = None
    left_rail: Outline | None = None
    right_rail: Outline | None = None


class DesignsLike(Protocol):
    """Design outlines of a pairing; any may be missing."""

    @property
    def left_wheel(self) -> Outline | None:
        """New left wheel."""

    @property
    def right_wheel(self) -> Outline | None:
        """New right wheel."""

    @property
    def left_rail(self) -> Outline | None:
        """New left rail."""

    @property
    def right_rail(self) -> Outline | None:
        """New right rail."""


class WheelsetLike(Protocol):
    """One wheelset of the latest campaign."""

    @property
    def wheelset(self) -> str:
        """Its name."""

    @property
    def fleet(self) -> str:
        """The fleet it runs in."""

    @property
    def word(self) -> Word:
        """Its gravest verdict."""

    @property
    def measures(self) -> Mapping[str, Measured]:
        """By measure name; those of one wheel end in ``.left`` or ``.right``."""


class SectionLike(Protocol):
    """One section of line of the latest campaign."""

    @property
    def section(self) -> str:
        """Its name."""

    @property
    def line(self) -> str:
        """Line and track."""

    @property
    def distance_km(self) -> float:
        """Distance from the start of its line, kilometre jumps taken out."""

    @property
    def word(self) -> Word:
        """Its gravest verdict."""

    @property
    def measures(self) -> Mapping[str, Measured]:
        """By measure name; those of one rail end in ``.left`` or ``.right``."""


class StretchLike(Protocol):
    """A length of line with one curvature, or one that runs linearly (a transition)."""

    @property
    def line(self) -> str:
        """Line and track."""

    @property
    def start_km(self) -> float:
        """Distance at its start."""

    @property
    def end_km(self) -> float:
        """Distance at its end."""

    @property
    def start_curvature_per_km(self) -> float:
        """Curvature at its start, 1/km, > 0 turns right."""

    @property
    def end_curvature_per_km(self) -> float:
        """Curvature at its end, 1/km."""

    @property
    def start_cant_mm(self) -> float:
        """Cant at its start, mm."""

    @property
    def end_cant_mm(self) -> float:
        """Cant at its end, mm."""

    @property
    def speed_kmh(self) -> float:
        """Speed, km/h."""


class PictureLike(Protocol):
    """What is drawn beside one finding."""

    @property
    def finding_id(self) -> str:
        """The finding."""

    @property
    def table(self) -> ContactTable:
        """The pairing."""

    @property
    def curve_radius_m(self) -> float:
        """Radius of the curve it meets, > 0 turns right, ``inf`` on straight line."""

    @property
    def shift_index(self) -> int:
        """Which shift of the table is drawn."""

    @property
    def steering(self) -> Steering | None:
        """What the curve needs and the pairing has, where it was assessed."""

    @property
    def flange(self) -> FlangeContact | None:
        """Where the flanges bear, where it was looked for."""

    @property
    def rolling_lines(self) -> Sequence[RollingLine]:
        """Where the difference is zero."""

    @property
    def smoothed_mm(self) -> Floats | None:
        """The difference with elastic contact at the table's shifts, mm."""

    @property
    def designs(self) -> DesignsLike | None:
        """New outlines to draw behind the worn ones."""


class RefusedLike(Protocol):
    """A measurement that was not used."""

    @property
    def subject(self) -> str:
        """What it was a measurement of."""

    @property
    def reason(self) -> str:
        """Why it was refused, in one sentence."""

    @property
    def where(self) -> str:
        """Where it stands in the survey's files."""


@runtime_checkable
class AssessmentLike(Protocol):
    """One survey, assessed."""

    @property
    def name(self) -> str:
        """Name of the survey."""

    @property
    def invented(self) -> bool:
        """Whether the survey is an invented one."""

    @property
    def units(self) -> UnitSystem:
        """How values are shown."""

    @property
    def campaigns(self) -> Sequence[str]:
        """Campaigns, oldest first, with their dates."""

    @property
    def wheelsets(self) -> Sequence[WheelsetLike]:
        """Wheelsets of the latest campaign."""

    @property
    def sections(self) -> Sequence[SectionLike]:
        """Sections of the latest campaign."""

    @property
    def findings(self) -> Sequence[Finding]:
        """All verdicts, gravest first."""

    @property
    def pictures(self) -> Sequence[PictureLike]:
        """Pairings to draw."""

    @property
    def route(self) -> Sequence[StretchLike]:
        """The lines, piece by piece."""

    @property
    def refused(self) -> Sequence[RefusedLike]:
        """What was refused and why."""

    @property
    def limits(self) -> Sequence[Limit]:
        """Limits that were applied."""

    @property
    def sources(self) -> Sequence[str]:
        """Keys of the bibliography that this run used."""

    @property
    def timings_s(self) -> Mapping[str, float]:
        """Seconds by stage."""

    @property
    def notes(self) -> Sequence[str]:
        """What a reader must know about this run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelsetRow:
    """A plain wheelset of an assessment; see `WheelsetLike`."""

    wheelset: str
    fleet: str
    word: Word
    measures: Mapping[str, Measured] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionRow:
    """A plain section of an assessment; see `SectionLike`."""

    section: str
    line: str
    distance_km: float
    word: Word
    measures: Mapping[str, Measured] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A plain piece of line; see `StretchLike`."""

    line: str
    start_km: float
    end_km: float
    start_curvature_per_km: float = 0.0
    end_curvature_per_km: float = 0.0
    start_cant_mm: float = 0.0
    end_cant_mm: float = 0.0
    speed_kmh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A plain pairing to draw; see `PictureLike`."""

    finding_id: str
    table: ContactTable
    curve_radius_m: float
    shift_index: int
    steering: Steering | None = None
    flange: FlangeContact | None = None
    rolling_lines: Sequence[RollingLine] = ()
    smoothed_mm: Floats | None = None
    designs: DesignsLike | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A plain refused measurement; see `RefusedLike`."""

    subject: str
    reason: str
    where: str = ""
