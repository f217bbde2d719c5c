"""``tapertread gauge``: the wear measures of one outline."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from tapertread.cli.answers import Answer, sources_listed
from tapertread.cli.house_command import house_command
from tapertread.cli.shapes_given import (
    Reading,
    Which,
    drawing_given,
    inspected,
    raw_outline,
    refuse_untrusted,
)
from tapertread.cli.value_types import LENGTH_MM
from tapertread.cli.wording import notes_text, paragraphs, table_text, value_text
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.inspect import Alongside, MeasuredOutline
from tapertread.shapes.outline import Kind
from tapertread.units import UnitSystem

USUAL_DESIGN: dict[Kind, str] = {"wheel": "S1002", "rail": "60E1"}
SOURCES = frozenset({"cfr-215", "derived", "trade-practice"})
CAUTION = (
    "measures support a decision and take none; limits, local rules and licensed or authorised "
    "persons decide"
)


KEYS = {
    "file": "the file read",
    "record": "asset, side, campaign of the outline, as far as they are known",
    "kind": "wheel or rail",
    "design": "what it was set against, with the mark of a doubtful one",
    "datum": "fit or given",
    "flange_height_mm": "wheel: flange tip below the worn tread at the tape line",
    "flange_thickness_mm": "wheel: at 10 mm below the worn tread",
    "flange_thickness_us_mm": "wheel: at 3/8 in below the worn tread",
    "flange_slope_mm": "wheel: from the thickness point to 2 mm above the tip, along the axle",
    "flange_angle_deg": "wheel: of the flange face, by regression",
    "tread_hollow_mm": "wheel: largest radius gained toward the field side",
    "rolled_lip_mm": "wheel: metal rolled over the rim",
    "rim_thickness_mm": "wheel: as given, for it is not in an outline",
    "tread_loss_mm": "wheel: radius lost at the tape line",
    "vertical_wear_mm": "rail: on the design's axis",
    "side_wear_mm": "rail: 14 mm below the worn top",
    "side_wear_new_top_mm": "rail: 14 mm below the new top",
    "side_wear_us_mm": "rail: 5/8 in below the worn top",
    "combined_wear_mm": "rail: vertical and half side wear",
    "wear_45_mm": "rail: along the 45° normal of the gauge corner",
    "head_area_loss_percent": "rail: of the new head's area",
    "gauge_face_angle_deg": "rail: of the gauge face from the horizontal",
    "measured": "each measure with its uncertainty (k = 1), its parts, or the reason for null",
    "alignment": "dy_mm, dz_mm, turn_rad, confidence (0 to 1), and what held each freedom",
    "cleaning": "steps, points removed, noise_mm, correlation_mm",
    "traps": "faults of devices found: name, severity, what was found, which measures it spoils",
    "trust": "trusted or marked; a refused outline is refused",
    "why": "what a mark is based on",
    "notes": "what is null and why, and what to bear in mind",
    "sources": "what the answer rests on: key, text, status; key null for a drawing's own words",
}


@house_command(
    "gauge",
    example="tapertread gauge worn.csv --kind wheel --design S1002 --units mm",
    keys=KEYS,
)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--kind", type=click.Choice(["wheel", "rail"]), required=True, help="What was measured."
)
@click.option(
    "--design",
    metavar="DESIGN",
    help="The shape when new: a design's name or a drawing file.  [default: S1002 or 60E1]",
)
@click.option(
    "--units",
    type=click.Choice(["mm", "in"]),
    help="Unit of y and z; beats the header, and is needed where it says none.",
)
@click.option(
    "--datum",
    type=click.Choice(["fit", "given"]),
    default="fit",
    help="Align by the parts that do not wear, or take the file's origin as the design's.",
)
@click.option(
    "--recipe",
    type=click.Path(path_type=Path),
    help="Recipe that says how the file is laid out.",
)
@click.option(
    "--stylus-radius",
    type=LENGTH_MM,
    help="Radius of the ball whose centre was recorded, mm; beats the recipe.",
)
@click.option(
    "--repeatability",
    type=LENGTH_MM,
    help="Standard deviation of the device's repeat readings, mm; beats the recipe.",
)
@click.option(
    "--rim-thickness", type=LENGTH_MM, help="Of a wheel, measured apart from the outline, mm."
)
@click.option("--asset", help="Which asset, where the file holds several outlines.")
@click.option("--side", type=click.Choice(["left", "right"]), help="Which side of it.")
@click.option("--campaign", help="Which round of measuring.")
@click.option(
    "--show",
    type=click.Choice(["metric", "us"]),
    default="metric",
    help="Units of the text; JSON is always metric.",
)
def command(*, file: Path, kind: Kind, design: str | None, show: UnitSystem, **how: Any) -> Answer:
    """Measure the wear of one wheel or rail outline in FILE (CSV, TXT, XLSX, Parquet).

    The points are cleaned, aligned to the design, gauged, and searched for the known faults of
    devices; every measure has its uncertainty, or the reason why there is none.
    """
    drawing = drawing_given(design or USUAL_DESIGN[kind], kind=kind)
    raw = raw_outline(
        file,
        kind=kind,
        reading=Reading(units=how["units"], recipe=how["recipe"]),
        which=Which(asset=how["asset"], side=how["side"], campaign=how["campaign"]),
    )
    known = Alongside(
        stylus_radius_mm=how["stylus_radius"] or raw.stylus_radius_mm,
        repeatability_mm=how["repeatability"] or raw.repeatability_mm,
        rim_thickness_mm=how["rim_thickness"],
    )
    done = inspected(raw, design=drawing, datum=how["datum"], alongside=known)
    if design is None:
        refuse_untrusted(done, file, todo=f"state --design; {drawing.origin.label} was taken")
    refuse_untrusted(done, file)
    data = {**done.to_dict(), "file": str(file), "record": raw.record, "kind": kind}
    notes = [*_listed(data["notes"]), *_about_design(drawing, stated=design is not None), CAUTION]
    return Answer(
        data={
            **data,
            "design": drawing.origin.label,
            "datum": how["datum"],
            "notes": notes,
            "sources": sources_listed(SOURCES, of_shapes=drawing.origin.sources),
        },
        text=paragraphs(
            f"{raw.record}, a {kind} against {drawing.origin.label} ({done.trust})",
            table_text(("measure", "value", "± (k = 2)"), _rows(done, show)),
            notes_text([*(f"{trap.name}: {trap.found}" for trap in done.traps), *notes]),
        ),
    )


def _listed(notes: object) -> list[str]:
    return [str(note) for note in notes] if isinstance(notes, list) else []


def _about_design(drawing: Drawing, *, stated: bool) -> Iterator[str]:
    origin = drawing.origin
    if not stated:
        yield f"design: none was stated, so the outline was set against {origin.label}"
    if origin.status == "doubtful":
        yield f"design: {origin.label}: {origin.note}"


def _rows(done: MeasuredOutline, show: UnitSystem) -> Iterator[tuple[str, str, str]]:
    for name, one in done.measures.measured().items():
        value = value_text(one.value, one.unit, system=show)
        yield name, value, value_text(one.expanded, one.unit, system=show)
