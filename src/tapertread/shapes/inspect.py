"""The whole chain of one outline: clean, align, gauge, find its traps, say how far to trust it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from tapertread.errors import OutlineRefused
from tapertread.shapes.alignment import ORIGIN_UNSURE, Aligned, Datum
from tapertread.shapes.cleaning.chain import Cleaned, clean
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Kind, Outline
from tapertread.shapes.rails.aligning import align_rail
from tapertread.shapes.rails.gauging import RailMeasures, gauge_rail
from tapertread.shapes.rails.traps import rail_traps, widened_by
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.traps import Severity, Trap
from tapertread.shapes.wheels.aligning import align_on
from tapertread.shapes.wheels.gauging import gauge_wheel
from tapertread.shapes.wheels.measures import WheelMeasures
from tapertread.shapes.wheels.traps import wheel_traps, widened_by_traps

Trust = Literal["trusted", "marked", "refused"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alongside:
    """What a survey knows of an outline beside its points; ``None`` where it does not say.

    Attributes
    ----------
    stylus_radius_mm : float
        Radius of the ball whose centre was recorded, mm; 0 where the metal itself was.
    repeatability_mm : float or None
        Standard deviation of the device's repeat readings, mm.
    rim_thickness_mm, rim_uncertainty_mm : float or None
        Of a wheel, measured apart from the outline, mm.
    """

    stylus_radius_mm: float = 0.0
    repeatability_mm: float | None = None
    rim_thickness_mm: float | None = None
    rim_uncertainty_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredOutline:
    """An outline from raw points to measures.

    Attributes
    ----------
    raw : Outline
        As read.
    cleaned : Cleaned
    aligned : Aligned
    measures : WheelMeasures or RailMeasures
        Missing with the reason, every one, where the outline is refused.
    traps : tuple of Trap
    trust : {"trusted", "marked", "refused"}
    why : str
        What the trust is based on; empty where it is full.
    """

    raw: Outline
    cleaned: Cleaned
    aligned: Aligned
    measures: WheelMeasures | RailMeasures
    traps: tuple[Trap, ...]
    trust: Trust
    why: str = ""

    @property
    def outline(self) -> Outline:
        """The aligned outline in its design's axes, ready for contact."""
        return self.aligned.outline

    def trap(self, name: str) -> Trap | None:
        """Return the first trap of a name, or ``None``."""
        return next((trap for trap in self.traps if trap.name == name), None)

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON: the measures, the alignment, traps and trust."""
        aligned = self.aligned
        return {
            **self.measures.to_dict(),
            "alignment": {
                "dy_mm": aligned.dy_mm,
                "dz_mm": aligned.dz_mm,
                "turn_rad": aligned.turn_rad,
                "confidence": aligned.confidence,
                "held": {
                    name: {
                        "by": held.by or None,
                        "uncertainty": _finite(held.uncertainty),
                        "reason": held.reason,
                    }
                    for name, held in (
                        ("across", aligned.across),
                        ("up", aligned.up),
                        ("turn", aligned.turn),
                    )
                },
            },
            "cleaning": {
                "steps": list(self.cleaned.steps),
                "removed": self.cleaned.removed,
                "noise_mm": self.cleaned.noise_mm,
                "correlation_mm": self.cleaned.correlation_mm,
            },
            "traps": [
                {
                    "name": trap.name,
                    "severity": trap.severity,
                    "found": trap.found,
                    "spoils": list(trap.spoils),
                    "size_mm": trap.size_mm,
                }
                for trap in self.traps
            ],
            "trust": self.trust,
            "why": self.why,
        }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def measure_outline(
    raw: Outline | RawOutline,
    *,
    kind: Kind,
    design: Drawing,
    datum: Datum = "fit",
    alongside: Alongside | None = None,
) -> MeasuredOutline:
    """Return an outline cleaned, aligned, gauged and judged.

    Parameters
    ----------
    raw : Outline or RawOutline
        As read; a `RawOutline` brings its own stylus radius and repeatability.
    kind : {"wheel", "rail"}
        What it is said to be.
    design : Drawing
        The wheel or rail when new.
    datum : {"fit", "given"}
        ``given``: the file's origin is the design's.
    alongside : Alongside, optional
        What is known beside the points; replaces what `raw` brings.

    Returns
    -------
    MeasuredOutline
        With ``trust = "refused"`` and no measures where a trap says that it cannot be trusted.

    Raises
    ------
    OutlineRefused
        If the points are no outline of this kind at all.
    """
    outline = raw.outline if isinstance(raw, RawOutline) else raw
    known = alongside or _known(raw)
    if kind not in (outline.kind, design.kind) or outline.kind != design.kind:
        raise _wrong_kind(outline.kind, design.kind, kind)
    cleaned = clean(outline, stylus_radius_mm=known.stylus_radius_mm)
    measures: WheelMeasures | RailMeasures
    if kind == "wheel":
        aligned, measures, traps = _wheel(cleaned, design, datum, known)
    else:
        aligned, measures, traps = _rail(cleaned, design, datum, known)
    if datum == "given" and known.repeatability_mm is None:
        measures = _origin_unsure(measures)
    trust, why = _trust(traps)
    if trust == "refused":
        measures = withheld(measures, why)
    return MeasuredOutline(
        raw=outline,
        cleaned=cleaned,
        aligned=aligned,
        measures=measures,
        traps=traps,
        trust=trust,
        why=why,
    )


OWN_AXES = ("rim_thickness_mm",)
"""What is not read from an outline."""


def _origin_unsure(measures: WheelMeasures | RailMeasures) -> WheelMeasures | RailMeasures:
    """Return the measures that rest on a file's origin with the reason what is not in them."""
    changes = {
        name: replace(
            one,
            parts=tuple((cause, part) for cause, part in one.parts if cause != "datum" or part),
            reason=ORIGIN_UNSURE,
        )
        for name, one in measures.measured().items()
        if one.value is not None and name not in OWN_AXES
    }
    return replace(measures, **changes)  # type: ignore[arg-type]


def _known(raw: Outline | RawOutline) -> Alongside:
    if isinstance(raw, RawOutline):
        return Alongside(
            stylus_radius_mm=raw.stylus_radius_mm, repeatability_mm=raw.repeatability_mm
        )
    return Alongside()


def _wrong_kind(outline: Kind, design: Kind, said: Kind) -> OutlineRefused:
    return OutlineRefused(
        "wrong-kind",
        f"the outline of a {outline} and the design of a {design}, said to be a {said}",
        allowed="outline, design and kind that agree",
        todo="name the kind that was measured and a design of that kind",
    )


def _wheel(
    cleaned: Cleaned, design: Drawing, datum: Datum, known: Alongside
) -> tuple[Aligned, WheelMeasures, tuple[Trap, ...]]:
    aligned, fit = align_on(cleaned, design=design, datum=datum)
    measures = gauge_wheel(
        aligned,
        design=design,
        cleaned=cleaned,
        rim_thickness_mm=known.rim_thickness_mm,
        rim_uncertainty_mm=known.rim_uncertainty_mm,
        repeatability_mm=known.repeatability_mm,
    )
    traps = wheel_traps(aligned, fit=fit, cleaned=cleaned, design=design, datum=datum)
    return aligned, widened_by_traps(measures, traps), traps


def _rail(
    cleaned: Cleaned, design: Drawing, datum: Datum, known: Alongside
) -> tuple[Aligned, RailMeasures, tuple[Trap, ...]]:
    aligned = align_rail(cleaned, design=design, datum=datum)
    measures = gauge_rail(
        aligned,
        design=design,
        noise_mm=cleaned.noise_mm,
        correlation_mm=cleaned.correlation_mm,
        repeatability_mm=known.repeatability_mm,
        noise=cleaned.noise,
        spacing_mm=cleaned.spacing_mm,
    )
    traps = rail_traps(aligned, cleaned=cleaned, design=design)
    return aligned, widened_by(measures, traps), traps


def _trust(traps: tuple[Trap, ...]) -> tuple[Trust, str]:
    """Return how far an outline can be trusted, and the traps that say so."""
    words: dict[Severity, Trust] = {"refuse": "refused", "mark": "marked"}
    for severity, trust in words.items():
        found = [f"{trap.name}: {trap.found}" for trap in traps if trap.severity == severity]
        if found:
            return trust, "; ".join(found)
    return "trusted", ""


def withheld(measures: WheelMeasures | RailMeasures, why: str) -> WheelMeasures | RailMeasures:
    """Return the measures all missing, because the outline is refused."""
    reason = f"the outline is refused: {why}"
    gone = {name: Measured.missing(one.unit, reason) for name, one in measures.measured().items()}
    return replace(measures, **gone)  # type: ignore[arg-type]
