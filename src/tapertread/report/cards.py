"""The card of one finding, with what is to be seen of its pairing."""

from __future__ import annotations

from tapertread.errors import ContactRefused
from tapertread.report.adapting import curve_needs
from tapertread.report.document import Figure, FindingCard
from tapertread.report.figures import cross_section_panels, difference_curve, verdict_scale
from tapertread.report.figures.placing import placed
from tapertread.report.figures.words import measure_words, mm_text
from tapertread.report.inputs import PictureLike
from tapertread.study.records import Finding
from tapertread.units import UnitSystem, curve_text


def finding_card(
    finding: Finding, picture: PictureLike | None, *, rank: int, system: UnitSystem
) -> FindingCard:
    """Return the card of a finding with its scale, cross-section and rolling radius curve.

    Parameters
    ----------
    finding : Finding
        What was found.
    picture : PictureLike or None
        Its pairing, where there is one to draw.
    rank : int
        1 is the gravest.
    system : {"metric", "us"}
        Units written on pictures.
    """
    words = measure_words(finding.quantity)
    against = finding.against
    return FindingCard(
        rank=rank,
        name=finding.id,
        subject=str(finding.subject),
        quantity=f"{words}, {finding.subject.group}" if finding.subject.group else words,
        verdict=finding.verdict,
        why=finding.why,
        against=against,
        note=_undrawn(picture),
        figures=_figures(finding, picture, words, system),
    )


def _figures(
    finding: Finding, picture: PictureLike | None, words: str, system: UnitSystem
) -> tuple[Figure, ...]:
    scale = verdict_scale(finding.verdict, words=f"{finding.id} {words}", system=system)
    if picture is None:
        caption = "Measured value with its expanded uncertainty, and the limit; beyond it hatched."
        return (Figure(panels=(scale,), caption=caption),) if scale else ()
    curve = difference_curve(
        picture.table,
        curve_needs(picture.steering, picture.flange),
        smoothed_mm=picture.smoothed_mm,
        rolling_lines_mm=[(line.shift_mm, line.stable) for line in picture.rolling_lines],
        system=system,
    )
    beside = Figure(
        panels=tuple(svg for svg in (curve, scale) if svg),
        caption="Rolling radius difference against shift: pure rolling needs the difference that "
        "the curve asks for."
        + (" Beside it the measured value; beyond the limit hatched." if scale else ""),
    )
    section = _section(picture, system)
    return (beside,) if section is None else (section, beside)


def _section(picture: PictureLike, system: UnitSystem) -> Figure | None:
    """Return the cross-section, or nothing where `_undrawn` says why there is none."""
    if _undrawn(picture):
        return None
    panels = cross_section_panels(
        picture.table, picture.shift_index, designs=picture.designs, system=system
    )
    return Figure(panels=panels, caption=_section_caption(picture, system))


def _undrawn(picture: PictureLike | None) -> str:
    """Return why the cross-section of a pairing cannot be drawn; empty where it can."""
    if picture is None:
        return ""
    try:
        placed(picture.table, picture.shift_index)
    except ContactRefused as refused:
        return f"No cross-section is drawn: {refused.found}."
    return ""


def _section_caption(picture: PictureLike, system: UnitSystem) -> str:
    shift = float(picture.table.shift_mm[picture.shift_index])
    place = "centred"
    if abs(shift) > 1e-9:
        place = f"{mm_text(abs(shift), system)} to the {'right' if shift > 0.0 else 'left'}"
    where = curve_text(picture.curve_radius_m, system=system)
    where = "on straight line" if where == "straight" else f"in the curve {where}"
    dashed = " Dashed: the shapes as designed." if picture.designs is not None else ""
    return (
        f"Both wheels on both rails, seen forward, {where}, axle {place}. Arrows show how the rail "
        f"pushes; the lower views look closer.{dashed}"
    )
