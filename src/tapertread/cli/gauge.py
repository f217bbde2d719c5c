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
from tapertread.cli.wording import notes_text, paragraphs, table_text, value_text
from tapertread.shapes.drawing import Drawing
from tapertread.shapes.inspect import MeasuredOutline
from tapertread.shapes.outline import Kind
from tapertread.units import UnitSystem

USUAL_DESIGN: dict[Kind, str] = {"wheel": "S1002", "rail": "60E1"}
SOURCES = frozenset({"cfr-215", "derived", "trade-practice"})
CAUTION = (
    "measures support a decision and take none; limits, local rules and licensed or authorised "
    "persons decide"
)


@house_command("gauge", example="tapertread gauge worn.csv --kind wheel --design S1002 --units mm")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
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
    type=click.Path(path_type=Path, dir_okay=False),
    help="Recipe that says how the file is laid out.",
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
    done = inspected(raw, kind=kind, design=drawing, datum=how["datum"])
    refuse_untrusted(done, file)
    data = {**done.to_dict(), "file": str(file), "record": raw.record, "kind": kind}
    notes = [*_listed(data["notes"]), *_about_design(drawing, stated=design is not None), CAUTION]
    return Answer(
        data={
            **data,
            "design": drawing.origin.label,
            "datum": how["datum"],
            "notes": notes,
            "sources": sources_listed(SOURCES | set(drawing.origin.sources)),
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
