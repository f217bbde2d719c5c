"""Faults of a device that a rail's unworn parts give away, because they know more than a placement.

Web, foot and flank together say more than the three movements need. What is left over after the
placement is compared with what each fault would leave: a stylus ball not taken off (everything
outward), a scale error, a section not square to the rail (stretched across), two sensors that do
not join (one side shifted). Faults that leave the same trace are named together; a fault too small
for the noise is said to be not detectable, never absent [derived].
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.alignment import Aligned, Held
from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats, Frame
from tapertread.shapes.rails.datum import FIELD_FLANK, Match, Points, match, unworn_parts
from tapertread.shapes.rails.fit import jacobian, spread
from tapertread.shapes.traps import Trap, TrapName

CERTAIN = 4.0
"""A fault is named where its estimate exceeds so many of its standard uncertainties."""

CAPTURE_MM = 2.0
FLANK_NORMAL_UP = 0.5
"""Of the field flank only what stands steeper than 60° bears witness: the rest may be worn."""

LEAST_WITNESSES = 10
EXPLAINS = 0.7
"""Share of what the placement leaves over that a fault must explain to be named."""

NEAR_TIE = 0.9
SKEW_FROM = 0.006
"""A calibrated device is not wrong by more: a larger stretch is laid to the section
[trade-practice]."""

EVERY_MEASURE = (
    "vertical_wear_mm",
    "side_wear_mm",
    "side_wear_new_top_mm",
    "side_wear_us_mm",
    "combined_wear_mm",
    "wear_45_mm",
    "head_area_loss_percent",
)

TILT_RAD, BIAS_MM = math.radians(0.25), 0.15
INCLINATIONS = {
    "1:40": math.atan(1.0 / 40.0),
    "1:30": math.atan(1.0 / 30.0),
    "1:20": math.atan(0.05),
}
UPRIGHT_RAD = 0.5 * INCLINATIONS["1:40"]
SAME_LEAN_RAD = math.radians(0.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault as the unworn parts show it.

    Attributes
    ----------
    name : str
        Name of the trap.
    words : str
        What it would be.
    size, uncertainty : float
        Estimate and its standard uncertainty; mm, or a share for scale and stretch.
    least : float
        Smallest size worth naming.
    unit : str
        ``mm`` or ``percent``.
    explains : float
        Share (0..1) of what the placement leaves over that it explains.
    """

    name: TrapName
    words: str
    size: float
    uncertainty: float
    least: float
    unit: str
    explains: float

    @property
    def seen(self) -> bool:
        """Whether it is certain and large enough to be named."""
        certain = abs(self.size) >= max(self.least, CERTAIN * self.uncertainty)
        return certain and self.explains >= EXPLAINS

    @property
    def detectable(self) -> bool:
        """Whether a fault of the smallest size worth naming would have been seen."""
        return CERTAIN * self.uncertainty <= self.least

    def __str__(self) -> str:
        """Return the fault with its size."""
        scale = 100.0 if self.unit == "percent" else 1.0
        unit = " %" if self.unit == "percent" else " mm"
        return f"{self.words} ({self.size * scale:+.2f} ± {self.uncertainty * scale:.2f}{unit})"


def section_faults(points: Points, design: Drawing, *, noise: Noise) -> tuple[Fault, ...]:
    """Return every fault with its estimate, the one that explains most first.

    Parameters
    ----------
    points : Points
        Laid on the design.
    design : Drawing
    noise : Noise
    """
    parts = unworn_parts(design)
    matched = match(points, parts, capture_mm=CAPTURE_MM)
    flank = [part.name for part in parts].index(FIELD_FLANK)
    witness = matched.held & ~((matched.part == flank) & (matched.nz > FLANK_NORMAL_UP))
    weight = np.where(witness, points.share_mm, 0.0)
    if np.count_nonzero(weight) < LEAST_WITNESSES or not (witness & (matched.part != flank)).any():
        return ()
    faults = _weighed(matched, points, weight, noise=noise)
    return tuple(sorted(faults, key=lambda fault: -fault.explains))


def _weighed(matched: Match, points: Points, weight: Floats, *, noise: Noise) -> Iterator[Fault]:
    """Yield each fault with its size by what the placement leaves over, unless it takes it up."""
    placement = jacobian(matched, points)
    left = _beyond(matched.outward_mm, placement, weight)
    every = _traces(matched.ny, matched.nz, points)
    traces = np.stack([_beyond(column, placement, weight) for *_, column in every])
    power = traces**2 @ weight
    follow = weight * traces / np.maximum(power, 1e-30)[:, None]
    unsure = np.sqrt(np.diag(spread(follow, points, noise=noise)))
    sizes, whole = follow @ left, float(weight @ left**2)
    for which, (name, words, least, unit, column) in enumerate(every):
        if power[which] > 1e-9 * float(weight @ column**2):
            explained = float(sizes[which] ** 2 * power[which])
            yield Fault(
                name=name,
                words=words,
                size=float(sizes[which]),
                uncertainty=float(unsure[which]),
                least=least,
                unit=unit,
                explains=explained / whole if whole > 0.0 else 0.0,
            )


_Trace = tuple[TrapName, str, float, str, Floats]


def _traces(ny: Floats, nz: Floats, points: Points) -> tuple[_Trace, ...]:
    """Return what each fault of unit size would leave along the normal."""
    y, z = points.y_mm, points.z_mm
    ones = np.ones(y.shape)
    return (
        ("stylus-ball-not-removed", "a stylus ball not taken off", 0.3, "mm", ones),
        ("scale-error", "a scale error", 0.0015, "percent", y * ny + z * nz),
        ("section-not-square", "a section not square to the rail", 0.004, "percent", y * ny),
        ("stitch-step", "two sensors that do not join", 0.3, "mm", np.where(y > 0.0, ny, 0.0)),
    )


def _beyond(column: Floats, placement: Floats, weight: Floats) -> Floats:
    """Return what of a column no placement can take up."""
    root = np.sqrt(weight)[:, None]
    taken = np.linalg.lstsq(placement * root, column * root[:, 0], rcond=1e-9)[0]
    rest: Floats = column - placement @ taken
    return rest


def fault_traps(faults: tuple[Fault, ...]) -> tuple[tuple[Trap, ...], tuple[str, ...]]:
    """Return the faults seen as traps, and a note on those that could not have been seen."""
    seen = [fault for fault in faults if fault.seen and _possible(fault)]
    hidden = [fault.words for fault in faults if not fault.detectable]
    if not faults:
        hidden = ["any fault of scale, stylus, squareness or stitching"]
    notes = (f"not detectable in this outline: {', '.join(hidden)}",) if hidden else ()
    if not seen:
        return (), notes
    ties = [one for one in seen if one.explains >= NEAR_TIE * seen[0].explains]
    skew = [one for one in ties if one.name == "section-not-square" and one.size > SKEW_FROM]
    best = skew[0] if skew and ties[0].name == "scale-error" else ties[0]
    words = " or ".join(str(one) for one in ties)
    found = f"the unworn parts do not fit one another as drawn: {words}, or a rail rolled off it"
    size = abs(best.size) if best.unit == "mm" else abs(best.size) * 36.0
    trap = Trap(name=best.name, severity="mark", found=found, spoils=EVERY_MEASURE, size_mm=size)
    return (trap,), notes


def _possible(fault: Fault) -> bool:
    """Return whether the sign makes sense: a ball and a skew section only enlarge."""
    one_signed = fault.name in ("stylus-ball-not-removed", "section-not-square")
    return fault.size > 0.0 or not one_signed


def lean_traps(turn_rad: float, *, held: Held, frame: Frame, given: bool) -> tuple[Trap, ...]:
    """Return what the lean of the file says: tilt, or an inclination there twice or missing.

    Parameters
    ----------
    turn_rad : float
        Turn that laid the outline on its design, rad; a rail leaning toward the track centre, as
        in track, needs a negative one.
    held : Held
        What the turn was found by.
    frame : {"rail-axis", "track-plane"}
        What the file says of itself.
    given : bool
        Whether the file's own axes are relied upon.
    """
    unsure = 3.0 * held.uncertainty
    if frame == "track-plane" and held.anchored and abs(turn_rad) + unsure < UPRIGHT_RAD:
        found = "said to be in the track plane, but the rail stands upright: inclination is missing"
        return (Trap(name="tilt", severity="mark", found=found),)
    if frame == "track-plane" or not held.anchored or abs(turn_rad) <= max(TILT_RAD, unsure):
        return ()
    degrees = f"leans by {-math.degrees(turn_rad):.2f}° ± {math.degrees(held.uncertainty):.2f}°"
    for name, lean in INCLINATIONS.items():
        if abs(turn_rad + lean) <= SAME_LEAN_RAD:
            found = (
                f"said to be in rail axes, but it {degrees}, as a rail inclined {name} does in "
                "track: the inclination must not be applied twice"
            )
            return (Trap(name="tilt", severity="mark", found=found),)
    found = f"the outline {degrees}"
    if given:
        return (Trap(name="tilt", severity="mark", found=found, spoils=EVERY_MEASURE),)
    return (Trap(name="tilt", severity="note", found=f"{found}; it was turned back"),)


def bias_traps(fitted: Aligned) -> tuple[tuple[Trap, ...], tuple[str, ...]]:
    """Return how far a file's own origin lies off the unworn parts, where these can tell.

    Parameters
    ----------
    fitted : Aligned
        The outline aligned by its unworn parts.
    """
    traps, blind = [], []
    for word, held, shift in (
        ("across", fitted.across, fitted.dy_mm),
        ("up", fitted.up, fitted.dz_mm),
    ):
        if not held.anchored or 3.0 * held.uncertainty > 2.0 * BIAS_MM:
            blind.append(word)
        elif abs(shift) > max(BIAS_MM, 3.0 * held.uncertainty):
            found = (
                f"the file's origin lies {-shift:+.2f} ± {held.uncertainty:.2f} mm {word} of where "
                f"the {held.by} says"
            )
            traps.append(
                Trap(
                    name="datum-bias",
                    severity="mark",
                    found=found,
                    spoils=EVERY_MEASURE,
                    size_mm=abs(shift),
                )
            )
    note = (f"a datum bias of 0.3 mm is not detectable {' or '.join(blind)}",) if blind else ()
    return tuple(traps), note
