"""Traps in measured outlines: how a device or a worn datum can lie, each with a name of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

TrapName = Literal[
    "flange-back-worn",
    "flange-back-not-seen",
    "burr-on-rim",
    "lip-on-gauge-corner",
    "stylus-ball-not-removed",
    "section-not-square",
    "stitch-step",
    "glint",
    "grease",
    "smoothed-or-extrapolated-end",
    "scale-error",
    "datum-bias",
    "tilt",
    "correlated-noise",
    "sides-swapped",
    "kilometre-drift",
    "wrong-unit",
    "mirrored-outline",
    "wrong-kind",
    "another-design",
    "self-crossing",
    "gap",
    "outliers",
]

Severity = Literal["note", "mark", "refuse"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trap:
    """A trap found in one outline.

    Attributes
    ----------
    name : str
        Name of the trap.
    severity : {"note", "mark", "refuse"}
        ``note``: dealt with, nothing to fear; ``mark``: measures named in `spoils` are widened or
        missing; ``refuse``: the outline cannot be trusted.
    found : str
        What was found, with its number and unit.
    spoils : tuple of str
        Measure names that it touches.
    size_mm : float or None
        Size of the fault, mm, where it can be estimated.
    """

    name: TrapName
    severity: Severity
    found: str
    spoils: tuple[str, ...] = ()
    size_mm: float | None = None
