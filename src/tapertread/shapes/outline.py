"""The outline: an ordered curve in the cross-section of one wheel or one rail.

Axes per side, for left and right alike: ``y`` outward (toward the field side of its own side of
the track), ``z`` up, millimetres. Wheel origin: tape-line point of the tread, so that the flange
back lies at ``y = -tape_line_mm`` and the tip of a 28 mm flange at ``z = -28``. Rail origin: top
of the upright rail at its axis.

Points run from the gauge side to the field side: a wheel begins at its flange back and ends at
the rim chamfer, a rail begins low on the gauge face and ends low on the field flank. The curve may
be steep or overhang; nobody turns it into ``z(y)`` but `contact`, which says what it hides.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.errors import OutlineRefused

Floats = NDArray[np.float64]
Kind = Literal["wheel", "rail"]
Side = Literal["left", "right"]
Frame = Literal["rail-axis", "track-plane"]

EUROPEAN_TAPE_LINE_MM = 70.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a shape comes from and how far it can be relied upon.

    Attributes
    ----------
    name : str
        Design name, or the name of the measured asset.
    status : str
        ``measured``, or the status of a design's figures: ``closed`` (recalled figures that fit
        one another as wrong ones would not), ``constructed``, ``doubtful``, ``own drawing``.
    sources : tuple of str
        Keys of `tapertread.sources`.
    note : str
        What a reader must know wherever the shape is used.
    """

    name: str
    status: str = "measured"
    sources: tuple[str, ...] = ()
    note: str = ""

    @property
    def label(self) -> str:
        """Name with the mark of a doubtful shape, as every page must show it."""
        return f"{self.name} (doubtful)" if self.status == "doubtful" else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """An ordered curve of one wheel or rail in its own side's axes.

    Attributes
    ----------
    kind : {"wheel", "rail"}
        What it is a section of.
    y_mm, z_mm : ndarray, shape (n,)
        Points in order from gauge side to field side, outward and up, mm.
    origin : Origin
        Name, status and sources.
    frame : {"rail-axis", "track-plane"}
        For rails: whether the inclination still has to be applied, or is in the points already.
    tape_line_mm : float
        For wheels: distance from flange back to tape line, mm. Belongs to the design.

    Raises
    ------
    OutlineRefused
        If fewer than four points, unequal lengths or numbers that are not finite are given.
    """

    kind: Kind
    y_mm: Floats
    z_mm: Floats
    origin: Origin = field(default_factory=lambda: Origin(name="unnamed"))
    frame: Frame = "rail-axis"
    tape_line_mm: float = EUROPEAN_TAPE_LINE_MM

    def __post_init__(self) -> None:
        """Freeze the arrays and refuse what cannot be a curve."""
        y = np.array(self.y_mm, dtype=np.float64)
        z = np.array(self.z_mm, dtype=np.float64)
        if y.ndim != 1 or y.shape != z.shape or y.size < 4:
            raise OutlineRefused(
                "too-few-points",
                f"an outline of {y.size} and {z.size} numbers",
                allowed="at least four points, as many y as z",
                todo="give the whole measured curve",
            )
        if not (np.isfinite(y).all() and np.isfinite(z).all()):
            raise OutlineRefused(
                "not-finite",
                "numbers that are missing or not finite",
                allowed="finite numbers only",
                todo="remove or complete these points",
            )
        y.flags.writeable = False
        z.flags.writeable = False
        object.__setattr__(self, "y_mm", y)
        object.__setattr__(self, "z_mm", z)

    @property
    def arc_mm(self) -> Floats:
        """Arc length from the first point, mm, shape (n,)."""
        steps = np.hypot(np.diff(self.y_mm), np.diff(self.z_mm))
        return np.concatenate(([0.0], np.cumsum(steps)))

    def with_points(self, y_mm: ArrayLike, z_mm: ArrayLike) -> Outline:
        """Return the same outline through other points (mm)."""
        return replace(
            self, y_mm=np.asarray(y_mm, dtype=np.float64), z_mm=np.asarray(z_mm, dtype=np.float64)
        )

    def moved(self, *, dy_mm: float = 0.0, dz_mm: float = 0.0, turn_rad: float = 0.0) -> Outline:
        """Return the outline turned about its origin (> 0 from y toward z), then shifted (mm)."""
        cos, sin = np.cos(turn_rad), np.sin(turn_rad)
        return self.with_points(
            self.y_mm * cos - self.z_mm * sin + dy_mm, self.y_mm * sin + self.z_mm * cos + dz_mm
        )

    def resampled(self, step_mm: float) -> Outline:
        """Return the outline with points every `step_mm` of arc, linear in between, ends kept."""
        arc = self.arc_mm
        count = max(4, int(np.ceil(arc[-1] / step_mm)) + 1)
        at = np.linspace(0.0, arc[-1], count)
        return self.with_points(np.interp(at, arc, self.y_mm), np.interp(at, arc, self.z_mm))

    def cut(self, y_from_mm: float, y_to_mm: float) -> Outline:
        """Return the part with y between two places (mm), as one run of points."""
        inside = (self.y_mm >= y_from_mm) & (self.y_mm <= y_to_mm)
        return self.with_points(self.y_mm[inside], self.z_mm[inside])
