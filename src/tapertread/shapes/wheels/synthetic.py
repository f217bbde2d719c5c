"""Wearing a wheel on purpose, with its true measures read off the dense, noise-free outline.

Metal is taken away along the normal by smooth amounts, so that the worn outline stays one simple
curve; the flange face loses evenly more from tip to throat, so that it stays as straight as rails
keep it. The truth is one interpolation each and shares no code with the room that gauges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats, Outline
from tapertread.shapes.synthetic import displaced, hump

DENSE_MM = 0.02
ROUNDED_MM = 1.5
FACE_LEVEL_MM = -9.0
FACE_RISE_MM, FACE_FALL_MM = 18.0, 20.0
HOLLOW_MIDDLE_MM, HOLLOW_HALF_MM = 4.0, 34.0
TREAD_FROM_MM, TREAD_TO_MM, TREAD_EDGE_MM = -20.0, 40.0, 12.0
BACK_FROM_MM, BACK_TO_MM, BACK_EDGE_MM = -16.0, 8.0, 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WornWheel:
    """A wheel worn on purpose, in its design's axes, with its true measures by glossary name."""

    outline: Outline
    truth: dict[str, float]


def wear_wheel(
    design: Drawing,
    *,
    flange_mm: float = 0.0,
    hollow_mm: float = 0.0,
    tread_mm: float = 0.0,
    back_mm: float = 0.0,
    step_mm: float = 0.3,
) -> WornWheel:
    """Return a wheel worn at its flange face, tread and back.

    Parameters
    ----------
    design : Drawing
        The wheel when new, with a flange.
    flange_mm : float
        Depth worn off the flange face, along its normal, mm.
    hollow_mm, tread_mm : float
        Depth of a hollow round the tape line, and of even wear of the whole tread, mm.
    back_mm : float
        Depth worn off the flange back by check rails, mm.
    step_mm : float
        Distance of the points returned, mm.
    """
    new = design.outline(DENSE_MM)
    y, z = new.y_mm, new.z_mm
    tip = int(np.argmin(z))
    beyond = np.arange(y.size) > tip
    face = np.interp(FACE_LEVEL_MM, z[tip : _root(z, tip)], new.arc_mm[tip : _root(z, tip)])
    depth = flange_mm * _face_share(new.arc_mm - float(face)) * beyond
    depth += hollow_mm * hump(y, HOLLOW_MIDDLE_MM, half_mm=HOLLOW_HALF_MM) * beyond
    depth += tread_mm * _shelf(y, TREAD_FROM_MM, TREAD_TO_MM, edge_mm=TREAD_EDGE_MM) * beyond
    depth += back_mm * _shelf(z, BACK_FROM_MM, BACK_TO_MM, edge_mm=BACK_EDGE_MM) * ~beyond
    worn = displaced(new, -depth)
    return WornWheel(outline=worn.resampled(step_mm), truth=wheel_truth(worn))


def _face_share(place_mm: Floats) -> Floats:
    """Return the share of flange wear at places of arc from the throat: a ramp up, a slope down."""
    ramp = np.clip(1.0 + place_mm / FACE_RISE_MM, 0.0, 1.0)
    share = np.where(place_mm < 0.0, ramp, hump(place_mm, 0.0, half_mm=FACE_FALL_MM))
    return np.asarray(gaussian_filter1d(share, ROUNDED_MM / DENSE_MM))


def wheel_truth(worn: Outline) -> dict[str, float]:
    """Return the true measures of a dense, noise-free wheel outline in its design's axes, mm."""
    y, z = worn.y_mm, worn.z_mm
    tip = int(np.argmin(z))
    tread = float(np.interp(0.0, y[tip:], z[tip:]))
    root = _root(z - tread, tip)
    at_10, at_us, near_tip = (
        float(np.interp(level, z[tip:root], y[tip:root]))
        for level in (tread - 10.0, tread - 9.525, float(z[tip]) + 2.0)
    )
    return {
        "flange_height_mm": tread - float(z[tip]),
        "flange_thickness_mm": at_10 + worn.tape_line_mm,
        "flange_thickness_us_mm": at_us + worn.tape_line_mm,
        "flange_slope_mm": at_10 - near_tip,
        "tread_hollow_mm": _largest_fall(z[(y > -30.0) & (y < 58.0)]),
        "tread_loss_mm": tread,
    }


def _root(z: Floats, tip: int) -> int:
    """Return the first place beyond the tip that has risen to 3 mm below the tread."""
    return tip + int(np.argmax(z[tip:] > -3.0))


def _largest_fall(z: Floats) -> float:
    return float(np.max(np.maximum.accumulate(z) - z))


def _shelf(place: Floats, first: float, last: float, *, edge_mm: float) -> Floats:
    """Return 1 between two places, falling smoothly to 0 over an edge outside them."""
    outside = np.maximum(np.maximum(first - place, place - last), 0.0)
    return np.asarray(hump(outside, 0.0, half_mm=edge_mm))
