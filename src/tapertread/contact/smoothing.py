"""The jumps of rigid contact, softened as elastic bodies soften them.

Near a jump two places bear together and share the load; the effective rolling radius then moves
over smoothly. Each place is weighted by ``exp(-(gap - smallest gap) / depth)`` [netter-1998]; the
depth is the approach of the bodies under load, of the order of the 0.05 to 0.1 mm that Hertz gives
for a loaded wheel.
"""

from __future__ import annotations

import numpy as np

from tapertread.contact.plain import gaps
from tapertread.contact.records import ContactTable, Floats
from tapertread.contact.sections import STATION_Z
from tapertread.contact.sides import Side, prepare

APPROACH_MM = 0.05


def smoothed_difference_mm(table: ContactTable, *, approach_mm: float = APPROACH_MM) -> Floats:
    """Return the rolling radius difference with every jump softened, right - left, mm.

    Parameters
    ----------
    table : ContactTable
        The rigid solution; its roll is kept.
    approach_mm : float
        Depth over which neighbouring places share the load.
    """
    right, left = prepare(table.wheelset, table.track, yaw_rad=table.yaw_rad, grid_mm=table.grid_mm)
    stands = np.isfinite(table.roll_rad)
    shift, roll = table.shift_mm[stands], table.roll_rad[stands]
    smooth = np.full(table.shift_mm.size, np.nan)
    smooth[stands] = _radius(right, shift, roll, approach_mm) - _radius(
        left, -shift, -roll, approach_mm
    )
    return smooth


def _radius(side: Side, shift: Floats, roll: Floats, approach_mm: float) -> Floats:
    nodes, gap, _ = gaps(side, shift=shift, roll=roll)
    weight = np.exp(-(gap - gap.min(axis=1, keepdims=True)) / approach_mm)
    radius = side.radius_mm - side.wheel.rows[STATION_Z, nodes]
    smoothed: Floats = (weight * radius).sum(axis=1) / weight.sum(axis=1)
    return smoothed
