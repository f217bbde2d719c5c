"""The drawing file, version 1, as records: what a drawing may say.

Axes per side: y outward, to the field side; z up. Pieces go from the gauge side to the field side.
The reference page is ``docs/drawing.md``; ``docs/schemas/drawing-1.json`` is made from here.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct

from tapertread.shapes.drawing.pieces import Point
from tapertread.shapes.outline import EUROPEAN_TAPE_LINE_MM, Kind
from tapertread.units import MM_PER_INCH

VERSION = 1
DEFAULT_TOLERANCE_MM = 0.01
"""Largest step at a junction accepted without ``allow_step``, mm, a tenth of what a profile gauge
resolves [trade-practice]."""

_RATIO = r"^\s*-?\d+(\.\d*)?\s*:\s*(?=[0-9.]*[1-9])\d+(\.\d*)?\s*$"
Slope = float | Annotated[str, Meta(pattern=_RATIO)]
Above0 = Annotated[float, Meta(gt=0.0)]


class PieceRecord(
    Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag_field="type",
    rename={"from_": "from"},
):
    """What every piece may say: its name, how sure it is, where it begins and ends."""

    name: Annotated[str, Meta(description="Name, used in refusals and junction records.")] = ""
    status: Annotated[str, Meta(description="How sure this piece is, if unlike the rest.")] = ""
    note: Annotated[str, Meta(description="What a reader must know about this piece.")] = ""
    from_: Annotated[Point | None, Meta(description="First point [y, z].")] = None
    from_y: Annotated[float | None, Meta(description="First place, by its y.")] = None
    from_z: Annotated[float | None, Meta(description="First place, by its z.")] = None
    to: Annotated[Point | None, Meta(description="Last point [y, z].")] = None
    to_y: Annotated[float | None, Meta(description="Last place, by its y.")] = None
    to_z: Annotated[float | None, Meta(description="Last place, by its z.")] = None
    to_angle_deg: Annotated[
        float | None,
        Meta(description="Arcs: last place, where the walk has this angle from y toward z."),
    ] = None


class LineRecord(PieceRecord, tag="line", frozen=True, kw_only=True):
    """A straight piece: two points, or one point with a slope, an angle or tangency."""

    through: Annotated[
        Point | None, Meta(description="A point of the line; without it, where it begins.")
    ] = None
    slope: Annotated[
        Slope | None, Meta(description="dz/dy of a piece walked outward: a number, or '1:20'.")
    ] = None
    angle_deg: Annotated[
        float | None, Meta(description="Direction of the walk, from y toward z.")
    ] = None
    tangent: Annotated[bool, Meta(description="Goes on in the direction of the piece before.")] = (
        False
    )


class TaperRecord(PieceRecord, tag="taper", frozen=True, kw_only=True):
    """A tread taper: a slope through a point, up to a place."""

    slope: Annotated[Slope, Meta(description="dz/dy: a number, or '1:40'.")]
    through: Annotated[Point, Meta(description="A point [y, z] of the taper.")]


class ArcRecord(PieceRecord, tag="arc", frozen=True, kw_only=True):
    """An arc: by its centre, tangent to the piece before it, between two ends, or a fillet."""

    radius: Annotated[float, Meta(gt=0.0, description="Radius.")]
    curve: Annotated[
        Literal["convex", "concave"], Meta(description="How the metal is shaped there.")
    ]
    centre: Annotated[Point | None, Meta(description="Centre [y, z].")] = None
    tangent: Annotated[bool, Meta(description="Leaves the piece before it without a kink.")] = False


class PolynomialRecord(PieceRecord, tag="polynomial", frozen=True, kw_only=True):
    """A piece ``z = sum of c[i] (y - about_y)^i`` up to ``to_y``."""

    coefficients: Annotated[
        tuple[float, ...],
        Meta(min_length=2, max_length=16, description="c[0], c[1], ..., ascending."),
    ]
    about_y: Annotated[float, Meta(description="Place about which the coefficients hold.")] = 0.0


AnyPiece = LineRecord | TaperRecord | ArcRecord | PolynomialRecord

PIECE_RECORDS: dict[str, type[PieceRecord]] = {
    "line": LineRecord,
    "taper": TaperRecord,
    "arc": ArcRecord,
    "polynomial": PolynomialRecord,
}


class DrawingRecord(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A whole drawing file; lengths of pieces and anchors are in ``units``."""

    drawing: Annotated[Literal[1], Meta(description="Version of this form; a file must say it.")]
    name: Annotated[str, Meta(min_length=1, description="Name shown wherever the shape is used.")]
    kind: Annotated[Kind, Meta(description="What the drawing is a section of.")]
    units: Annotated[
        Literal["mm", "in"], Meta(description="Unit of all lengths of pieces and anchors.")
    ]
    status: Annotated[str, Meta(description="How far the figures can be relied upon.")] = (
        "own drawing"
    )
    sources: Annotated[tuple[str, ...], Meta(description="Where the figures come from.")] = ()
    note: Annotated[str, Meta(description="What a reader must know.")] = ""
    tape_line_mm: Annotated[
        Above0 | None, Meta(description="Wheels: distance from flange back to tape line, mm.")
    ] = None
    tape_line_in: Annotated[Above0 | None, Meta(description="Wheels: the same, in.")] = None
    mirror: Annotated[
        bool, Meta(description="Rails: only the field half is given, beginning at y = 0.")
    ] = False
    tolerance_mm: Annotated[
        float, Meta(gt=0.0, description="Largest step where pieces meet, mm.")
    ] = DEFAULT_TOLERANCE_MM
    allow_step: Annotated[bool, Meta(description="Larger steps are part of the drawing.")] = False
    piece: Annotated[
        tuple[AnyPiece, ...], Meta(min_length=1, description="The running curve, in order.")
    ]
    anchor: Annotated[
        tuple[AnyPiece, ...],
        Meta(description="Parts that do not wear, for alignment, apart from the running curve."),
    ] = ()

    @property
    def tape_line(self) -> float:
        """Distance from flange back to tape line, mm (rails: the European one, unused)."""
        if self.tape_line_in is not None:
            return self.tape_line_in * MM_PER_INCH
        return EUROPEAN_TAPE_LINE_MM if self.tape_line_mm is None else self.tape_line_mm


def drawing_schema() -> dict[str, Any]:
    """Return the JSON schema of drawing files, version 1."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "tapertread drawing, version 1",
        **msgspec.json.schema(DrawingRecord),
    }
