"""The wear law of the invented railway: metal is planed away by the shape of the other body.

A wheel flange is cut by a *cap*, the gauge corner of all the rails it met; a rail corner is cut
down to the cap that all the flanges left. Nothing here follows a load, a creepage or a published
wear law: the truth must not come from the model that is later tried on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.outline import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Cap:
    """A face, a rounded corner and a top line, as ``z(y)``, rising from the face to the top.

    Attributes
    ----------
    face_y_mm, face_z_mm : float
        A place on the face.
    face_deg : float
        Slope of the face from the horizontal.
    top_mm : float
        Height of the top line at y = 0.
    top_slope : float
        Slope of the top line, dz/dy.
    radius_mm : float
        Radius of the corner, tangent to both.
    """

    face_y_mm: float
    face_z_mm: float
    face_deg: float
    top_mm: float
    top_slope: float
    radius_mm: float

    def height_mm(self, y_mm: Floats) -> Floats:
        """Return z (mm) of the cap at each y (mm), shape (n,)."""
        steep = math.tan(math.radians(self.face_deg))
        long_face, long_top = math.hypot(1.0, steep), math.hypot(1.0, self.top_slope)
        face_0 = self.face_z_mm - steep * self.face_y_mm
        # The corner's centre lies one radius below both lines.
        centre_y = (self.top_mm - face_0 + self.radius_mm * (long_face - long_top)) / (
            steep - self.top_slope
        )
        centre_z = face_0 + steep * centre_y - self.radius_mm * long_face
        begin = centre_y - self.radius_mm * steep / long_face
        end = centre_y - self.radius_mm * self.top_slope / long_top
        inside = np.clip(y_mm, begin, end) - centre_y
        arc = centre_z + np.sqrt(np.maximum(self.radius_mm**2 - inside * inside, 0.0))
        face = face_0 + steep * y_mm
        top = self.top_mm + self.top_slope * y_mm
        return np.where(y_mm < begin, face, np.where(y_mm > end, top, arc))


def rounded_max(a: Floats, b: Floats, *, reach_mm: float) -> Floats:
    """Return the larger of two curves, rounded where they are nearer than `reach_mm` (mm)."""
    near = np.maximum(reach_mm - np.abs(a - b), 0.0)
    return np.maximum(a, b) + near * near / (4.0 * reach_mm)


def rounded_min(a: Floats, b: Floats, *, reach_mm: float) -> Floats:
    """Return the smaller of two curves, rounded where they are nearer than `reach_mm` (mm)."""
    return -rounded_max(-a, -b, reach_mm=reach_mm)


def plateau(y_mm: Floats, *, begin_mm: float, end_mm: float, edge_mm: float) -> Floats:
    """Return 1 between two places, falling smoothly to exactly 0 over an edge outside, shape (n,).

    Half of each edge lies within the plateau's ends and half outside (mm).
    """
    rise = np.clip((y_mm - begin_mm) / edge_mm + 0.5, 0.0, 1.0)
    fall = np.clip((end_mm - y_mm) / edge_mm + 0.5, 0.0, 1.0)
    return _eased(rise) * _eased(fall)


def _eased(share: Floats) -> Floats:
    return share * share * (3.0 - 2.0 * share)
