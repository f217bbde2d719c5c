"""The same search in plain NumPy: whole arrays over shifts and nodes, no warm start, no sieve.

It is the oracle of the compiled kernel in the tests and its yardstick in the benchmark: same grid,
same cubic through four rail nodes, same roll steps, every node of every shift evaluated each time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.records import Floats
from tapertread.contact.sections import Z
from tapertread.contact.sides import Side

ROLL_STEPS = 8
ROLL_TOLERANCE_RAD = 1e-10


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainContacts:
    """Roll and, per side, fractional wheel node and smallest gap; arrays of shape (shifts,)."""

    roll_rad: Floats
    right_node: Floats
    left_node: Floats
    gap_mm: Floats
    roll_steps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lowest:
    node: Floats
    gap: Floats
    arm: Floats


def search(right: Side, left: Side, *, shifts_mm: Floats) -> PlainContacts:
    """Return contacts at every shift by Newton's method on the roll, all shifts at once.

    Parameters
    ----------
    right, left : Side
        Sides made ready by `rolling.prepare`.
    shifts_mm : ndarray, shape (shifts,)
        Shifts of the axle centre within the flange clearance.
    """
    roll = np.zeros(shifts_mm.size)
    steps = 0
    for steps in range(1, ROLL_STEPS + 1):  # noqa: B007
        on_right = _lowest(right, shifts_mm, roll)
        on_left = _lowest(left, -shifts_mm, -roll)
        move = (on_left.gap - on_right.gap) / np.minimum(on_right.arm + on_left.arm, -100.0)
        if np.abs(move).max() < ROLL_TOLERANCE_RAD:
            break
        roll = roll + move
    return PlainContacts(
        roll_rad=roll,
        right_node=on_right.node,
        left_node=on_left.node,
        gap_mm=on_right.gap,
        roll_steps=steps,
    )


def gaps(side: Side, *, shift: Floats, roll: Floats) -> tuple[NDArray[np.intp], Floats, Floats]:
    """Return wheel nodes over the rail, their gaps and the rail slope under them.

    Parameters
    ----------
    side : Side
        One side made ready.
    shift, roll : ndarray, shape (shifts,)
        In that side's outward axes, mm and rad.

    Returns
    -------
    tuple of ndarray
        Node numbers, shape (nodes,); gaps, mm, and rail slopes, shape (shifts, nodes). The gap is
        infinite where there is no rail.
    """
    wheel, rail = side.wheel, side.rail
    step = wheel.step_mm
    nodes = _nodes_over_rail(side, shift)
    across = side.wheel_place_mm + wheel.first_mm + nodes * step
    down = wheel.rows[Z, nodes] - side.radius_mm
    cos, sin = np.cos(roll)[:, None], np.sin(roll)[:, None]
    x = (shift[:, None] + across * cos + down * sin - rail.first_mm - side.rail_shift_mm) / step
    k = np.floor(x).astype(np.intp)
    outside = (k < 1) | (k > rail.rows.shape[1] - 3)
    k = np.clip(k, 1, rail.rows.shape[1] - 3)
    f = x - k
    z = rail.rows[Z]
    height = (
        -f * (f - 1.0) * (f - 2.0) / 6.0 * z[k - 1]
        + (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0 * z[k]
        - (f + 1.0) * f * (f - 2.0) / 2.0 * z[k + 1]
        + (f + 1.0) * f * (f - 1.0) / 6.0 * z[k + 2]
    )
    gap = np.where(outside, np.inf, down * cos - across * sin - height)
    return nodes, gap, (z[k + 1] - z[k]) / step


def _nodes_over_rail(side: Side, shift: Floats) -> NDArray[np.intp]:
    """Return the wheel nodes that hang over the rail at any of the shifts (roll up to 20 mrad)."""
    wheel, rail = side.wheel, side.rail
    offset = side.wheel_place_mm + wheel.first_mm - rail.first_mm - side.rail_shift_mm
    room = 0.02 * side.radius_mm
    first = (-offset - shift.max() - room) / wheel.step_mm
    last = rail.rows.shape[1] - (offset + shift.min() - room) / wheel.step_mm
    return np.arange(max(0, int(first)), min(wheel.rows.shape[1], int(last) + 1))


def _lowest(side: Side, shift: Floats, roll: Floats) -> _Lowest:
    nodes, gap, slope = gaps(side, shift=shift, roll=roll)
    at = np.argmin(gap, axis=1)
    row = np.arange(shift.size)
    before, here, after = gap[row, at - 1], gap[row, at], gap[row, at + 1]
    bend = before - 2.0 * here + after
    across = side.wheel_place_mm + side.wheel.first_mm + nodes[at] * side.wheel.step_mm
    down = side.wheel.rows[Z, nodes[at]] - side.radius_mm
    cos, sin = np.cos(roll), np.sin(roll)
    turn = down * cos - across * sin
    return _Lowest(
        node=nodes[at] + 0.5 * (before - after) / bend,
        gap=here - 0.125 * (before - after) ** 2 / bend,
        arm=-down * sin - across * cos - slope[row, at] * turn,
    )
