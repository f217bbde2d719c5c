"""Roughly where wheels touch a rail: two sections pressed together, without roll and load.

Good enough for the shiny band that a person sees on a rail; a wheelset's contact proper is the
business of the contact room, from which the truth keeps apart.
"""

from __future__ import annotations

import numpy as np

from tapertread.demo.ageing_rails import leaning
from tapertread.shapes.outline import Floats, Outline

GRID_MM = 0.1
PATCH_MM = 8.0


def touching_mm(wheel: Outline, rail: Outline, *, offset_mm: Floats, inclination: float) -> Floats:
    """Return where on the rail (y from its axis, mm) a wheel touches at each offset.

    Parameters
    ----------
    wheel, rail : Outline
        In their design's axes.
    offset_mm : ndarray, shape (n,)
        y of the wheel's tape line in the rail's axes, mm.
    inclination : float
        Lean of the rail.
    """
    leant = leaning(rail, inclination)
    grid = np.arange(-34.0, 30.0, GRID_MM)
    head = np.interp(grid, np.maximum.accumulate(leant.y_mm), leant.z_mm)
    tip = int(np.argmin(wheel.z_mm))
    places = [
        grid[int(np.argmin(np.interp(grid - offset, wheel.y_mm[tip:], wheel.z_mm[tip:]) - head))]
        for offset in offset_mm.tolist()
    ]
    return np.array(places)


def band_mm(places: Floats) -> tuple[float, float]:
    """Return centre and width (mm) of the band that contact at several places polishes."""
    low, high = float(places.min()), float(places.max())
    return 0.5 * (low + high), high - low + PATCH_MM
