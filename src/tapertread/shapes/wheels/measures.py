"""The wear measures of one wheel, as a record."""

from __future__ import annotations

from dataclasses import dataclass

from tapertread.shapes.measured import Measured, Measures


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelMeasures(Measures):
    """Wear measures of one wheel, each a value with its uncertainty or the reason why not.

    Attributes
    ----------
    flange_height_mm, flange_thickness_mm, flange_thickness_us_mm, flange_slope_mm : Measured
        From the worn tread; thickness at 10 mm and at 3/8 in beyond it.
    flange_angle_deg : Measured
        From the axle's direction.
    tread_hollow_mm : Measured
    rolled_lip_mm : Measured
    rim_thickness_mm : Measured
        As given; it is not in an outline.
    tread_loss_mm : Measured
        Radius lost at the tape line.
    notes : tuple of str
    """

    flange_height_mm: Measured
    flange_thickness_mm: Measured
    flange_thickness_us_mm: Measured
    flange_slope_mm: Measured
    flange_angle_deg: Measured
    tread_hollow_mm: Measured
    rolled_lip_mm: Measured
    rim_thickness_mm: Measured
    tread_loss_mm: Measured
