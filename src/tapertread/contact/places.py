"""From the nodes that the search found to places, angles and curvatures on both bodies."""

from __future__ import annotations

import numpy as np

from tapertread.contact.records import Floats, SideContacts
from tapertread.contact.sections import (
    ANGLE,
    CURVATURE,
    STATION_Y,
    STATION_Z,
    Section,
    Z,
)
from tapertread.contact.sides import Side

_FOUR = np.arange(-1, 3)


def contacts_of(side: Side, found: Floats, *, shift: Floats, roll: Floats) -> SideContacts:
    """Return the contacts of one side.

    Parameters
    ----------
    side : Side
        The side that was searched.
    found : ndarray, shape (shifts, 4)
        Wheel node, gap, second node (negative for none) and second gap; NaN without contact.
    shift, roll : ndarray, shape (shifts,)
        In this side's outward axes, mm and rad.
    """
    count = shift.size
    second = np.where(found[:, 2] >= 0.0, found[:, 2], np.nan)
    nodes = np.concatenate((found[:, 0], second))
    on_wheel = rows_at(side.wheel, nodes)
    on_rail = rows_at(
        side.rail,
        _rail_nodes(side, nodes, on_wheel[Z], shift=np.tile(shift, 2), roll=np.tile(roll, 2)),
    )
    wheel, rail = on_wheel[:, :count], on_rail[:, :count]
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
        second_wheel_y_mm=on_wheel[STATION_Y, count:],
        second_rail_y_mm=on_rail[STATION_Y, count:],
        second_gap_mm=np.where(np.isfinite(second), found[:, 3], np.nan),
    )


def rows_at(section: Section, nodes: Floats) -> Floats:
    """Return every row of a section at fractional nodes, by a cubic through four nodes.

    Parameters
    ----------
    section : Section
        Wheel or rail.
    nodes : ndarray, shape (m,)
        NaN gives NaN.

    Returns
    -------
    ndarray, shape (5, m)
    """
    known = np.isfinite(nodes)
    safe = np.where(known, nodes, 1.0)
    k = np.clip(safe.astype(np.intp), 1, section.rows.shape[1] - 3)
    f = safe - k
    ahead, behind, far = f + 1.0, f - 1.0, f - 2.0
    weights = np.stack(
        (
            f * behind * far / -6.0,
            ahead * behind * far / 2.0,
            ahead * f * far / -2.0,
            ahead * f * behind / 6.0,
        ),
        axis=1,
    )
    found: Floats = np.einsum("rmj,mj->rm", section.rows[:, k[:, None] + _FOUR], weights)
    found[:, ~known] = np.nan
    return found


def _rail_nodes(
    side: Side, nodes: Floats, place_z: Floats, *, shift: Floats, roll: Floats
) -> Floats:
    across = side.wheel_place_mm + side.wheel.first_mm + nodes * side.wheel.step_mm
    down = place_z - side.radius_mm
    x = shift + across * np.cos(roll) + down * np.sin(roll)
    at: Floats = (x - side.rail.first_mm - side.rail_shift_mm) / side.rail.step_mm
    return at


def _shared_angle(wheel: Floats, rail: Floats, bend_wheel: Floats, bend_rail: Floats) -> Floats:
    """Return the common tangent angle, leaning on the straighter body where the two differ.

    A place error moves the angle of each body by its own curvature, so the weights are the other
    body's curvature [derived].
    """
    weight_wheel, weight_rail = np.abs(bend_rail) + 1e-12, np.abs(bend_wheel) + 1e-12
    shared: Floats = (wheel * weight_wheel + rail * weight_rail) / (weight_wheel + weight_rail)
    return shared
