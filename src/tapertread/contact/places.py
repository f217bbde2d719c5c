"""From the nodes that the search found to places, angles and curvatures on both bodies."""

from __future__ import annotations

import numpy as np

from tapertread.contact.records import Floats, SideContacts
from tapertread.contact.sections import ANGLE, CURVATURE, STATION_Y, STATION_Z
from tapertread.contact.sides import Side


def contacts_of(side: Side, nodes: Floats, *, shift: Floats, roll: Floats) -> SideContacts:
    """Return the contacts of one side.

    Parameters
    ----------
    side : Side
        The side that was searched.
    nodes : ndarray, shape (shifts, 4)
        Wheel node, gap, second node and second gap; a negative node stands for no place.
    shift, roll : ndarray, shape (shifts,)
        In this side's outward axes, mm and rad.
    """
    from tapertread.contact._kernels.reading import (  # noqa: PLC0415  the compiler is slow to load
        read,
    )

    rows = side.wheel.rows.shape[0]
    on_wheel = np.full((shift.size, 2, rows), np.nan)
    on_rail = np.full((shift.size, 2, rows), np.nan)
    read(side.wheel.rows, side.rail.rows, side.arrays[-1], shift, roll, nodes, on_wheel, on_rail)
    wheel, rail = np.ascontiguousarray(on_wheel[:, 0].T), np.ascontiguousarray(on_rail[:, 0].T)
    return SideContacts(
        wheel_y_mm=wheel[STATION_Y],
        wheel_z_mm=wheel[STATION_Z],
        rail_y_mm=rail[STATION_Y],
        rail_z_mm=rail[STATION_Z],
        rolling_radius_mm=side.radius_mm - wheel[STATION_Z],
        contact_angle_rad=_shared_angle(
            wheel[ANGLE] - roll, rail[ANGLE], wheel[CURVATURE], rail[CURVATURE]
        ),
        wheel_curvature_per_mm=wheel[CURVATURE],
        rail_curvature_per_mm=rail[CURVATURE],
        second_wheel_y_mm=on_wheel[:, 1, STATION_Y],
        second_rail_y_mm=on_rail[:, 1, STATION_Y],
        second_gap_mm=np.where(nodes[:, 2] >= 0.0, nodes[:, 3], np.nan),
    )


def _shared_angle(wheel: Floats, rail: Floats, bend_wheel: Floats, bend_rail: Floats) -> Floats:
    """Return the common tangent angle, leaning on the straighter body where the two differ.

    A place error moves the angle of each body by its own curvature, so the weights are the other
    body's curvature [derived].
    """
    weight_wheel, weight_rail = np.abs(bend_rail) + 1e-12, np.abs(bend_wheel) + 1e-12
    shared: Floats = (wheel * weight_wheel + rail * weight_rail) / (weight_wheel + weight_rail)
    return shared
