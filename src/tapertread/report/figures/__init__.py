"""Figures: pure functions from results to pictures.

===========  =====================================================================================
module       duty
===========  =====================================================================================
``words``    short words on pictures: values with unit, names of measures and shapes
``placing``  where the outlines of a pairing lie across the track at one shift
``pairing``  the cross-section: both wheels on both rails, and a closer look at each contact
``curves``   rolling radius difference, conicity, contact places, gauge and inclination sweeps
``gauging``  an outline against its design, gauging lines and measures
``strips``   the line along its length
``fleet``    every wheelset in one picture
``scale``    a measured value beside its limit
===========  =====================================================================================
"""

from tapertread.report.figures.curves import (
    CurveNeeds,
    GaugeSweep,
    conicity_curve,
    contact_places,
    difference_curve,
    gauge_band,
)
from tapertread.report.figures.fleet import fleet_picture
from tapertread.report.figures.gauging import outline_picture
from tapertread.report.figures.pairing import cross_section, cross_section_panels
from tapertread.report.figures.scale import verdict_scale
from tapertread.report.figures.strips import LinePicture, line_strips

__all__ = [
    "CurveNeeds",
    "GaugeSweep",
    "LinePicture",
    "conicity_curve",
    "contact_places",
    "cross_section",
    "cross_section_panels",
    "difference_curve",
    "fleet_picture",
    "gauge_band",
    "line_strips",
    "outline_picture",
    "verdict_scale",
]
