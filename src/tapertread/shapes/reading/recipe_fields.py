"""What a recipe can say: every field, with the sentence that the documentation prints.

A recipe describes how one device, or one spreadsheet, writes outlines down. It holds facts about
files, never measurements. The reference page and the schema in ``docs/`` are made from here.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from tapertread.shapes.outline import Frame, Kind, Side
from tapertread.units import FACTORS

MM_PER_M = 1000.0
LENGTH_UNITS_MM: dict[str, float] = {
    unit: FACTORS[unit][1] * (MM_PER_M if FACTORS[unit][0] == "m" else 1.0)
    for unit in ("mm", "um", "cm", "in", "m")
}
"""Unit of a length column → millimetres in one of it."""

LABELS = ("asset", "side", "campaign", "time")
"""What an outline is known by."""

DELIMITER_WORDS = {"tab": "\t", "whitespace": "whitespace", "auto": "auto"}
"""Words for delimiters that a recipe cannot show, or leaves to the file."""

LengthUnit = Literal["mm", "um", "cm", "in", "m"]
Format = Literal["auto", "csv", "txt", "xlsx", "parquet"]
Column = Annotated[int, Meta(ge=1)] | Annotated[str, Meta(min_length=1)]
Flip = bool | Side
Length = Annotated[float, Meta(ge=0.0)]
Texts = tuple[str, ...]


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of every part of a recipe: immutable, keyword-only, no unknown keys."""


class FileForm(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the file is written."""

    format: Annotated[
        Format, Meta(description="Kind of file; `auto` goes by the name's ending, then by content.")
    ] = "auto"
    encoding: Annotated[
        str, Meta(description="Text encoding; `auto` takes UTF-8, or what a byte order mark says.")
    ] = "auto"
    delimiter: Annotated[
        str,
        Meta(description="One character, or the words `tab`, `whitespace`, `auto`."),
    ] = "auto"
    decimal: Annotated[
        Literal["auto", ".", ","],
        Meta(description="Decimal sign; `auto` refuses commas that may group thousands."),
    ] = "auto"
    comment: Annotated[
        str,
        Meta(
            description="Lines that begin with this are left out; `auto`: with `#`, but one that "
            "looks like a row of the table is refused; empty keeps all lines."
        ),
    ] = "auto"
    skip_lines: Annotated[
        Annotated[int, Meta(ge=0)],
        Meta(description="Lines before the header (or before the data, without a header)."),
    ] = 0
    header: Annotated[
        bool, Meta(description="Whether a line with column names comes before the data.")
    ] = True
    skip_after_header: Annotated[
        Annotated[int, Meta(ge=0)],
        Meta(description="Lines between the header and the data, such as a line of units."),
    ] = 0
    sheet: Annotated[str, Meta(description="Sheet of a workbook; empty takes its only sheet.")] = ""
    date_format: Annotated[
        str,
        Meta(description="Form of dates in `strptime` letters; empty takes only clear dates."),
    ] = ""
    missing_texts: Annotated[
        Texts, Meta(description="Cells that mean *not measured*, besides blank ones.")
    ] = ()
    missing_points: Annotated[
        Literal["refuse", "skip"],
        Meta(
            description="Whether a point that was not measured spoils its outline or is left out."
        ),
    ] = "refuse"


class Columns(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where things stand: a column name of the header, or a column number counted from 1."""

    y: Annotated[Column | None, Meta(description="Across (long layout).")] = None
    z: Annotated[Column | None, Meta(description="Up (long layout).")] = None
    asset: Annotated[
        Column | None, Meta(description="Wheelset or section that the outline belongs to.")
    ] = None
    side: Annotated[Column | None, Meta(description="Left or right.")] = None
    campaign: Annotated[Column | None, Meta(description="Round of measuring.")] = None
    time: Annotated[Column | None, Meta(description="Date, or date and time, of measuring.")] = None


class Grid(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Evenly spaced y values of wide rows, in the unit of y."""

    first: Annotated[float, Meta(description="y of the first z column.")]
    step: Annotated[float, Meta(description="From one z column to the next; may be negative.")]


class WideRows(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One outline in each row. Columns are given as numbers (`3-122, 130`) or names (`z*`)."""

    pairs: Annotated[
        str, Meta(description="Columns that alternate y, z, y, z …; instead of `y` and `z`.")
    ] = ""
    y: Annotated[str, Meta(description="Columns with y, as many as with z.")] = ""
    z: Annotated[str, Meta(description="Columns with z.")] = ""
    grid: Annotated[
        Grid | tuple[float, ...] | Literal["header"] | None,
        Meta(
            description="y of each z column: `{first, step}`, a list, or `header` where the names "
            "of the z columns are the numbers."
        ),
    ] = None


class Units(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Length units of the columns; needed where the header does not say them."""

    y: Annotated[LengthUnit | None, Meta(description="Unit of y.")] = None
    z: Annotated[LengthUnit | None, Meta(description="Unit of z.")] = None


class Axes(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the file's axes lie, applied in this order: swap, flips, origin.

    Our axes, for each side: y outward (to the field side), z up, mm; origin at the tape-line point
    of a wheel, at the top of a rail on its axis.
    """

    swap: Annotated[bool, Meta(description="The file's y is our z and the reverse.")] = False
    flip_y: Annotated[
        Flip,
        Meta(description="y runs toward the track centre; `left` or `right`: on that side only."),
    ] = False
    flip_z: Annotated[
        Flip, Meta(description="z runs down; `left` or `right`: on that side only.")
    ] = False
    origin_y_mm: Annotated[
        float,
        Meta(description="Where the file's origin lies in our y, mm (the flange back: -70)."),
    ] = 0.0
    origin_z_mm: Annotated[
        float, Meta(description="Where the file's origin lies in our z, mm.")
    ] = 0.0


class SideValues(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Words for the sides; capitals and blanks around them do not matter."""

    left: Annotated[Texts, Meta(description="Words for left.")] = ("left", "l")
    right: Annotated[Texts, Meta(description="Words for right.")] = ("right", "r")


class Fixed(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What holds for every outline of the file and stands in no column."""

    asset: Annotated[str, Meta(description="Wheelset or section.")] = ""
    side: Annotated[Side | None, Meta(description="Left or right.")] = None
    campaign: Annotated[str, Meta(description="Round of measuring.")] = ""
    time: Annotated[str, Meta(description="Date, or date and time, of measuring.")] = ""


class Recipe(Part, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How to read the outlines of one device or spreadsheet."""

    recipe: Annotated[Literal[1], Meta(description="Version of this form; a file must say it.")] = 1
    name: Annotated[str, Meta(description="Name shown with each outline it read.")] = ""
    note: Annotated[str, Meta(description="Anything that readers of the recipe should know.")] = ""
    kind: Annotated[Kind | None, Meta(description="What the outlines show.")] = None
    frame: Annotated[
        Frame | None,
        Meta(
            description="Rails: `track-plane` where the cant of the rail is in the points, "
            "`rail-axis` where the rail stands upright in them."
        ),
    ] = None
    device: Annotated[str, Meta(description="Device that measured.")] = ""
    repeatability_mm: Annotated[
        Length | None, Meta(description="Standard deviation of repeated measurements, mm.")
    ] = None
    stylus_radius_mm: Annotated[
        Length,
        Meta(description="Radius of the ball whose centre was recorded, mm; 0: the surface was."),
    ] = 0.0
    layout: Annotated[
        Literal["long", "wide"],
        Meta(description="`long`: one point in each row; `wide`: one outline in each row."),
    ] = "long"
    file: Annotated[FileForm, Meta(description="How the file is written.")] = FileForm()
    columns: Annotated[Columns, Meta(description="Which column is what.")] = Columns()
    wide: Annotated[WideRows | None, Meta(description="Columns of the wide layout.")] = None
    units: Annotated[Units, Meta(description="Units of the columns.")] = Units()
    axes: Annotated[Axes, Meta(description="How the file's axes lie.")] = Axes()
    side_values: Annotated[SideValues, Meta(description="Words for the sides.")] = SideValues()
    fixed: Annotated[Fixed, Meta(description="What holds for the whole file.")] = Fixed()
    file_name: Annotated[
        str,
        Meta(
            description="Pattern of file names, one outline a file: `{asset}`, `{side}`, "
            "`{campaign}`, `{time}`, and `*` for anything; without the ending."
        ),
    ] = ""
