"""What a wheel or a rail looks like: designs, drawings, measured outlines and their measures.

====================  ===========================================================================
module                duty (in the order data flows)
====================  ===========================================================================
``outline``           the ordered curve of one wheel or rail in its own side's axes, mm
``measured``          a measured value with its uncertainty, or the reason why there is none
``traps``             how a device or a worn datum can lie, each with a name
``pieces``            exact straight, arc and polynomial pieces by arc length
``carriers``          what pieces lie on: endless lines, whole circles, polynomials
``fillets``           the arc that touches two carriers
``drawing_records``   the drawing file, version 1, as records, and its schema
``drawing_file``      reading it: TOML into records, in mm
``drawing_refusals``  what a drawing can say that cannot be drawn
``draughting``        from records to pieces: what a drawing leaves open is solved
``finishing``         from a carrier and two ends to an exact piece
``symmetry``          the other half of a symmetric rail
``junctions``         steps and kinks where pieces meet
``drawing_checks``    whether a drawing can be a wheel or rail at all
``projecting``        the nearest places of a chain of pieces to points, with signed distances
``drawing``           the exact curve of a wheel or rail: evaluate, outline, project points
``designs``           shipped drawings with source and status, found by name
``recipe``            how a table of measured points is laid out
``reading``           measured outlines from CSV, TXT, XLSX and Parquet
``cleaning``          order, outliers, gaps, noise; what was done is told
``alignment``         records of what holds an outline in its design's axes
``aligning``          carrying a measured outline into its design's axes by parts that do not wear
``gauging``           wear measures of wheels and rails, each with its uncertainty
``inspect``           the whole chain from raw points to measures, traps and trust
====================  ===========================================================================

Axes: y outward (to the field side of its own side), z up, mm. Curves run from the gauge side to
the field side. Curvature is positive where metal is convex; a point outside the metal has positive
distance. The names below load their modules when first used, so that the room imports quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tapertread.shapes.designs import (
        DesignInfo,
        all_designs,
        design,
        design_drawing,
        design_info,
        design_names,
    )
    from tapertread.shapes.drawing import Drawing, Projection, read_drawing
    from tapertread.shapes.measured import Measured
    from tapertread.shapes.outline import Origin, Outline
    from tapertread.shapes.traps import Trap

_HOMES = {
    "Outline": "outline",
    "Origin": "outline",
    "Measured": "measured",
    "Trap": "traps",
    "Drawing": "drawing",
    "Projection": "drawing",
    "read_drawing": "drawing",
    "DesignInfo": "designs",
    "all_designs": "designs",
    "design": "designs",
    "design_drawing": "designs",
    "design_info": "designs",
    "design_names": "designs",
}

__all__ = [
    "DesignInfo",
    "Drawing",
    "Measured",
    "Origin",
    "Outline",
    "Projection",
    "Trap",
    "all_designs",
    "design",
    "design_drawing",
    "design_info",
    "design_names",
    "read_drawing",
]


def __getattr__(name: str) -> Any:
    """Load a public name from the module that holds it."""
    if name in _HOMES:
        return getattr(import_module(f"tapertread.shapes.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
