"""What a wheel or a rail looks like: designs, drawings, measured outlines and their measures.

==============  ==============================================================================
module          duty (in the order data flows)
==============  ==============================================================================
``outline``     the ordered curve of one wheel or rail in its own side's axes, mm
``measured``    a measured value with its uncertainty, or the reason why there is none
``traps``       how a device or a worn datum can lie, each with a name
``alignment``   records of what holds an outline in its design's axes
``drawing``     drawing files, and the exact curves they describe
``designs``     shipped drawings with source and status, found by name
``reading``     recipes and tables: any file into raw outlines
``cleaning``    order, outliers, gaps, noise, smoothing that keeps corners
``wheels``      a wheel laid on its design, gauged, and searched for traps
``rails``       a rail laid on its design, gauged, and searched for traps
``inspect``     the whole chain: clean, align, gauge, traps, trust
``synthetic``   spoiling an outline on purpose, for studies and the demo
==============  ==============================================================================

Axes: y outward (to the field side of its own side), z up, mm. Curves run from the gauge side to
the field side. Curvature is positive where metal is convex; a point outside the metal has positive
distance. The names below load their modules when first used, so that the room imports quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tapertread.shapes.alignment import Aligned
    from tapertread.shapes.cleaning.chain import Cleaned, clean
    from tapertread.shapes.designs import (
        DesignInfo,
        all_designs,
        design,
        design_drawing,
        design_info,
        design_names,
    )
    from tapertread.shapes.drawing.curve import Drawing, read_drawing
    from tapertread.shapes.drawing.projecting import Projection
    from tapertread.shapes.inspect import Alongside, MeasuredOutline, measure_outline
    from tapertread.shapes.measured import Measured
    from tapertread.shapes.outline import Origin, Outline
    from tapertread.shapes.rails.aligning import align_rail
    from tapertread.shapes.rails.gauging import RailMeasures, gauge_rail
    from tapertread.shapes.rails.template import template_distance
    from tapertread.shapes.reading.outlines import Reading, read_outlines
    from tapertread.shapes.reading.raw_outline import RawOutline
    from tapertread.shapes.reading.recipe import read_recipe
    from tapertread.shapes.reading.recipe_fields import Recipe
    from tapertread.shapes.traps import Trap
    from tapertread.shapes.wheels.aligning import align_wheel
    from tapertread.shapes.wheels.gauging import gauge_wheel
    from tapertread.shapes.wheels.measures import WheelMeasures
    from tapertread.shapes.wheels.wheelset import gauge_wheelset

_HOMES = {
    "Origin": "outline",
    "Outline": "outline",
    "Measured": "measured",
    "Trap": "traps",
    "Projection": "drawing.projecting",
    "Drawing": "drawing.curve",
    "read_drawing": "drawing.curve",
    "DesignInfo": "designs",
    "all_designs": "designs",
    "design": "designs",
    "design_drawing": "designs",
    "design_info": "designs",
    "design_names": "designs",
    "Recipe": "reading.recipe_fields",
    "read_recipe": "reading.recipe",
    "RawOutline": "reading.raw_outline",
    "Reading": "reading.outlines",
    "read_outlines": "reading.outlines",
    "Cleaned": "cleaning.chain",
    "clean": "cleaning.chain",
    "Aligned": "alignment",
    "align_wheel": "wheels.aligning",
    "align_rail": "rails.aligning",
    "WheelMeasures": "wheels.measures",
    "gauge_wheel": "wheels.gauging",
    "RailMeasures": "rails.gauging",
    "gauge_rail": "rails.gauging",
    "gauge_wheelset": "wheels.wheelset",
    "Alongside": "inspect",
    "MeasuredOutline": "inspect",
    "measure_outline": "inspect",
    "template_distance": "rails.template",
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
