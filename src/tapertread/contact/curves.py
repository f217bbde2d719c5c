"""An outline as a smooth curve, densely sampled along its arc, with angles and curvature."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import Akima1DInterpolator

from tapertread.contact.records import Floats
from tapertread.errors import ContactRefused
from tapertread.shapes.outline import Outline

DENSE_STEP_MM = 0.02
CURVATURE_HALF_WINDOW_MM = 0.6
TOUCHABLE_DEPTH_MM = 14.0
"""Below a rail's top: nothing touches deeper than where gauge is taken."""

HOLE_MM, HOLE_STEPS, HOLE_TURN_RAD = 4.0, 10.0, math.radians(2.0)
"""A hole is longer than 4 mm and ten usual steps, and the curve turns by more than 2° at it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A smooth curve through an outline's points, sampled densely along its arc.

    Attributes
    ----------
    y_mm, z_mm : ndarray, shape (m,)
        Points every `DENSE_STEP_MM` of arc.
    angle_rad : ndarray, shape (m,)
        Direction of the curve, from y toward z, between -pi and pi.
    curvature_per_mm : ndarray, shape (m,)
        Rate of the angle along the arc, averaged over ± `CURVATURE_HALF_WINDOW_MM`.
    """

    y_mm: Floats
    z_mm: Floats
    angle_rad: Floats
    curvature_per_mm: Floats

    def turned(self, turn_rad: float) -> Curve:
        """Return the curve turned about its origin, > 0 from y toward z."""
        cos, sin = math.cos(turn_rad), math.sin(turn_rad)
        return Curve(
            y_mm=self.y_mm * cos - self.z_mm * sin,
            z_mm=self.y_mm * sin + self.z_mm * cos,
            angle_rad=np.remainder(self.angle_rad + turn_rad + math.pi, 2.0 * math.pi) - math.pi,
            curvature_per_mm=self.curvature_per_mm,
        )


def smooth_curve(outline: Outline) -> Curve:
    """Return an outline's smooth dense curve (local cubic in arc length, corners kept).

    Raises
    ------
    ContactRefused
        If fewer than four separate points remain, a part that could touch has none, or the points
        run from the field side to the gauge side.
    """
    arc = outline.arc_mm
    fresh = np.concatenate(([True], np.diff(arc) > 1e-9))
    arc, y, z = arc[fresh], outline.y_mm[fresh], outline.z_mm[fresh]
    if arc.size < 4:
        raise ContactRefused(
            "too-few-points",
            f"an outline with {arc.size} separate points",
            allowed="at least four separate points",
            todo="give the whole measured curve",
        )
    _refuse_hole(outline, arc, y, z)
    at = np.linspace(0.0, arc[-1], max(8, round(arc[-1] / DENSE_STEP_MM) + 1))
    y_of, z_of = Akima1DInterpolator(arc, y), Akima1DInterpolator(arc, z)
    angle = np.arctan2(z_of(at, nu=1), y_of(at, nu=1))
    y, z = np.asarray(y_of(at)), np.asarray(z_of(at))
    _refuse_reversed(outline, z, angle)
    return Curve(
        y_mm=y,
        z_mm=z,
        angle_rad=angle,
        curvature_per_mm=_window_slope(np.unwrap(angle), at[1] - at[0]),
    )


def _refuse_reversed(outline: Outline, z: Floats, angle: Floats) -> None:
    """Refuse a curve that runs inward at its flange tip or rail top, or its angles would lie."""
    level = int(np.argmin(z) if outline.kind == "wheel" else np.argmax(z))
    if math.cos(angle[level]) <= 0.0:
        raise ContactRefused(
            "reversed-outline",
            f"a {outline.kind} outline that runs from the field side to the gauge side",
            allowed="points in order from the gauge side to the field side",
            todo="reverse the order of the points",
        )


def _refuse_hole(outline: Outline, arc: Floats, y: Floats, z: Floats) -> None:
    """Refuse to guess a curve where points are missing that could touch.

    A long step is no hole where the curve goes straight on across it: a drawn straight line needs
    no points in between.
    """
    step = np.diff(arc)
    turn = np.abs(np.diff(np.unwrap(np.arctan2(np.diff(z), np.diff(y)))))
    bent = np.maximum(np.append(turn, 0.0), np.insert(turn, 0, 0.0)) > HOLE_TURN_RAD
    wide = step > max(HOLE_MM, HOLE_STEPS * float(np.median(step)))
    touchable = (
        np.arange(step.size) >= int(np.argmin(z))
        if outline.kind == "wheel"
        else np.maximum(z[:-1], z[1:]) > z.max() - TOUCHABLE_DEPTH_MM
    )
    holes = np.nonzero(wide & bent & touchable)[0]
    if holes.size:
        i = int(holes[0])
        raise ContactRefused(
            "outline-with-a-hole",
            f"{step[i]:.1f} mm without a point between (y, z) = ({y[i]:.1f}, {z[i]:.1f}) mm and "
            f"({y[i + 1]:.1f}, {z[i + 1]:.1f}) mm, where the curve bends",
            allowed="one continuous curve wherever wheel and rail can touch",
            todo="close the gap by a measurement, or give the parts as one curve",
        )


def _window_slope(values: Floats, step: float) -> Floats:
    """Return the least-squares slope of evenly spaced values in a window that shrinks at ends."""
    half = max(1, round(CURVATURE_HALF_WINDOW_MM / step))
    padded = np.concatenate(
        (
            2.0 * values[0] - values[half:0:-1],
            values,
            2.0 * values[-1] - values[-2 : -half - 2 : -1],
        )
    )
    ramp = np.arange(padded.size, dtype=np.float64)
    sums = np.concatenate(([0.0], np.cumsum(padded)))
    moments = np.concatenate(([0.0], np.cumsum(padded * ramp)))
    width = 2 * half + 1
    total = sums[width:] - sums[:-width]
    moment = moments[width:] - moments[:-width] - total * ramp[half : half + values.size]
    slope: Floats = moment / (half * (half + 1) * width / 3.0) / step
    return slope
