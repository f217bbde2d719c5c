"""An outline as it was measured: its points in our axes, and all that is known about them."""

from __future__ import annotations

from dataclasses import dataclass

from tapertread.shapes.outline import Frame, Kind, Outline, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class RawOutline:
    """One outline read from a file: nothing cleaned, nothing aligned, points in file order.

    Attributes
    ----------
    outline : Outline
        Points in our axes, mm, in the order of the file.
    asset : str
        Wheelset or section; the file's name where no column, recipe or pattern names it.
    side : {"left", "right"} or None
        ``None`` where nothing says it.
    campaign, time : str
        Round of measuring, and its date or date and time (ISO 8601); empty where nothing says it.
    stylus_radius_mm : float
        Radius of the ball whose centre the points are, mm; 0 where they lie on the surface.
    device : str
        Device, where the recipe names it.
    repeatability_mm : float or None
        Standard deviation of repeated measurements, mm, where the recipe states it.
    file : str
        Where it was read.
    first_line, last_line : int
        Lines of a text, rows of a sheet (from 1), rows of data of a Parquet file (from 1).
    recipe_name : str
        Recipe that read it; empty without one.
    """

    outline: Outline
    asset: str
    side: Side | None
    campaign: str = ""
    time: str = ""
    stylus_radius_mm: float = 0.0
    device: str = ""
    repeatability_mm: float | None = None
    file: str = ""
    first_line: int = 0
    last_line: int = 0
    recipe_name: str = ""

    @property
    def kind(self) -> Kind:
        """Wheel or rail."""
        return self.outline.kind

    @property
    def frame(self) -> Frame:
        """Frame of the points of a rail."""
        return self.outline.frame

    @property
    def record(self) -> str:
        """Return the words by which a person finds it, e.g. ``W07 left 2031-spring``."""
        return " ".join(part for part in (self.asset, self.side, self.campaign, self.time) if part)
