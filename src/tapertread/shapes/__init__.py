"""What a wheel or a rail looks like: designs, drawings, measured outlines and their measures.

Modules and duties, in the order data flows.

What everything is made of:

======================  ======================================================================
``outline``             the ordered curve of one wheel or rail in its own side's axes, mm
``measured``            a measured value with its uncertainty, or the reason why there is none
``traps``               how a device or a worn datum can lie, each with a name
======================  ======================================================================

Drawings and designs:

======================  ======================================================================
``pieces``              exact straight, arc and polynomial pieces by arc length
``carriers``            what pieces lie on: endless lines, whole circles, polynomials
``fillets``             the arc that touches two carriers
``drawing_records``     the drawing file, version 1, as records, and its schema
``drawing_file``        reading it: TOML into records, in mm
``drawing_refusals``    what a drawing can say that cannot be drawn
``finishing``           from a carrier and two ends to an exact piece
``draughting``          from records to pieces: what a drawing leaves open is solved
``symmetry``            the other half of a symmetric rail
``junctions``           steps and kinks where pieces meet
``drawing_checks``      whether a drawing can be a wheel or rail at all
``projecting``          the nearest places of a chain of pieces to points, signed
``drawing``             the exact curve: evaluate, outline, project points
``designs``             shipped drawings with source and status, found by name
======================  ======================================================================

Reading what was measured:

======================  ======================================================================
``recipe_fields``       what a recipe can say, with the sentences of its page
``recipe_checks``       whether a recipe agrees with itself
``recipe``              recipes from TOML; every mistake named with its place
``recipe_page``         reference pages and schemas, made from what is accepted
``text_form``           how a text file is written, found from its first lines
``text_table``          tables in text files, in blocks of rows
``frame_table``         tables in workbooks and Parquet files
``table_chunk``         rows with the line each stands on
``tables_in``           opening a table, whatever kind of file it is in
``header``              what the names of columns say
``dates``               dates into ISO 8601; two meanings are refused
``point_columns``       where the points of a table stand
``column_plan``         recipe, caller and header put together
``batches``             cells into numbers, keeping every cell that is none
``raw_outline``         an outline as measured, and what is known about it
``assembling``          rows into outlines
``reading``             any table into raw outlines
======================  ======================================================================

Cleaning:

======================  ======================================================================
``noise``               how noisy an outline is, and what noise does to a reading
``ordering``            points into the order of the curve
``outliers``            single points and clusters that do not belong
``crossings``           whether an outline crosses itself
``orientation``         which way round it lies, of what kind, in which unit
``stylus``              taking the ball of a stylus off
``resampling``          even steps of arc; gaps found and bridged
``smoothing``           as much as the noise asks and the shape allows
``cleaning_notes``      refusals, steps done, traps met
``cleaning``            all of it in order, with a record of what was done
======================  ======================================================================

Aligning and gauging:

======================  ======================================================================
``alignment``           records of what holds an outline in its design's axes
``datum_wheel``         parts of a wheel that rails do not wear
``datum_rail``          parts of a rail that wheels do not wear
``fit_wheel``           laying a wheel on its unworn parts
``fit_rail``            laying a rail on its unworn parts
``holding_rail``        what of a placement is held, and how surely
``agreeing_rail``       whether a rail's unworn parts agree at all, or mirrored
``aligning_wheel``      a wheel into its design's axes
``aligning_rail``       a rail into its design's axes
``faults_wheel``        device faults that a wheel's unworn parts give away
``agreeing_wheel``      whether a wheel is of its design, before a device is blamed
``surface_wheel``       steps, scatter, layers and made-up ends of a wheel
``traps_wheel``         every trap of a wheel by its name
``ends_rail``           ends straighter than the device could measure
``traps_rail``          what lies on a rail's surface, or was made of it
``faults_rail``         device faults that a rail's unworn parts give away
``drift_rail``          kilometres that drift between campaigns
``head_rail``           levels, rays and areas of a rail head
``area_rail``           head area lost
``face_rail``           gauge-face angle
``job_rail``            one rail to be gauged, and what makes readings unsure
``readings_wheel``      plain readings of a wheel
``job_wheel``           one wheel to be gauged, and what makes readings unsure
``measures_wheel``      the measures of one wheel, as a record
``template``            how far an outline lies from a target, across the head
``gauging_wheel``       wear measures of a wheel, with uncertainty by cause
``gauging_rail``        wear measures of a rail, likewise
``gauging_wheelset``    measures of a whole wheelset
``inspect``             the whole chain: clean, align, gauge, traps, trust
======================  ======================================================================

Known truth, for studies and the demo:

======================  ======================================================================
``synthetic``           spoiling an outline on purpose
``synthetic_wheel``     wearing a wheel on purpose
======================  ======================================================================

Axes: y outward (to the field side of its own side), z up, mm. Curves run from the gauge side to
the field side. Curvature is positive where metal is convex; a point outside the metal has positive
distance. The names below load their modules when first used, so that the room imports quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tapertread.shapes.aligning_rail import align_rail
    from tapertread.shapes.aligning_wheel import align_wheel
    from tapertread.shapes.alignment import Aligned
    from tapertread.shapes.cleaning import Cleaned, clean
    from tapertread.shapes.designs import (
        DesignInfo,
        all_designs,
        design,
        design_drawing,
        design_info,
        design_names,
    )
    from tapertread.shapes.drawing import Drawing, read_drawing
    from tapertread.shapes.gauging_rail import RailMeasures, gauge_rail
    from tapertread.shapes.gauging_wheel import gauge_wheel
    from tapertread.shapes.gauging_wheelset import gauge_wheelset
    from tapertread.shapes.inspect import Alongside, MeasuredOutline, measure_outline
    from tapertread.shapes.measured import Measured
    from tapertread.shapes.measures_wheel import WheelMeasures
    from tapertread.shapes.outline import Origin, Outline
    from tapertread.shapes.projecting import Projection
    from tapertread.shapes.raw_outline import RawOutline
    from tapertread.shapes.reading import Reading, read_outlines
    from tapertread.shapes.recipe import read_recipe
    from tapertread.shapes.recipe_fields import Recipe
    from tapertread.shapes.template import template_distance
    from tapertread.shapes.traps import Trap

_HOMES = {
    "Origin": "outline",
    "Outline": "outline",
    "Measured": "measured",
    "Trap": "traps",
    "Projection": "projecting",
    "Drawing": "drawing",
    "read_drawing": "drawing",
    "DesignInfo": "designs",
    "all_designs": "designs",
    "design": "designs",
    "design_drawing": "designs",
    "design_info": "designs",
    "design_names": "designs",
    "Recipe": "recipe_fields",
    "read_recipe": "recipe",
    "RawOutline": "raw_outline",
    "Reading": "reading",
    "read_outlines": "reading",
    "Cleaned": "cleaning",
    "clean": "cleaning",
    "Aligned": "alignment",
    "align_wheel": "aligning_wheel",
    "align_rail": "aligning_rail",
    "WheelMeasures": "measures_wheel",
    "gauge_wheel": "gauging_wheel",
    "RailMeasures": "gauging_rail",
    "gauge_rail": "gauging_rail",
    "gauge_wheelset": "gauging_wheelset",
    "Alongside": "inspect",
    "MeasuredOutline": "inspect",
    "measure_outline": "inspect",
    "template_distance": "template",
}

__all__ = [
    "Aligned",
    "Alongside",
    "Cleaned",
    "DesignInfo",
    "Drawing",
    "Measured",
    "MeasuredOutline",
    "Origin",
    "Outline",
    "Projection",
    "RailMeasures",
    "RawOutline",
    "Reading",
    "Recipe",
    "Trap",
    "WheelMeasures",
    "align_rail",
    "align_wheel",
    "all_designs",
    "clean",
    "design",
    "design_drawing",
    "design_info",
    "design_names",
    "gauge_rail",
    "gauge_wheel",
    "gauge_wheelset",
    "measure_outline",
    "read_drawing",
    "read_outlines",
    "read_recipe",
    "template_distance",
]


def __getattr__(name: str) -> Any:
    """Load a public name from the module that holds it."""
    if name in _HOMES:
        return getattr(import_module(f"tapertread.shapes.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
