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

ROLL_STEPS = 40
GAP_TOLERANCE_MM = 1e-8
BRACKET_RAD = 1e-14
DEEPEST_DIP_MM = 0.01
LEAST_BEND_MM, KINK_MM = 1e-15, 0.5
FLATTEST_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainContacts:
    """Roll and, per side, fractional wheel node; smallest gap; arrays of shape (shifts,)."""

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
    """Return contacts at every shift, all shifts at once; NaN where the roll did not settle.

    Newton's step until both signs were seen, then the secant of the bracket, as in the kernel.

    Parameters
    ----------
    right, left : Side
        Sides made ready by `sides.prepare`.
    shifts_mm : ndarray, shape (shifts,)
        Shifts of the axle centre within the flange clearance.
    """
    bracket = _Bracket(shifts_mm.size)
    flattest = -FLATTEST_SHARE * (right.wheel_place_mm + left.wheel_place_mm)
    roll = np.zeros(shifts_mm.size)
    for steps in range(1, ROLL_STEPS + 1):
        on_right = _lowest(right, shifts_mm, roll)
        on_left = _lowest(left, -shifts_mm, -roll)
        off = on_right.gap - on_left.gap
        settled = (np.abs(off) < GAP_TOLERANCE_MM) | (bracket.width < BRACKET_RAD)
        if settled.all() or steps == ROLL_STEPS:
            break
        slope = np.minimum(on_right.arm + on_left.arm, flattest)
        roll = np.where(settled, roll, bracket.next_roll(roll, off, slope))
    return PlainContacts(
        roll_rad=np.where(settled, roll, np.nan),
        right_node=on_right.node,
        left_node=on_left.node,
        gap_mm=on_right.gap,
        roll_steps=steps,
    )


class _Bracket:
    """Rolls between which each shift's solution lies, as far as known."""

    def __init__(self, size: int) -> None:
        self.low = np.full(size, -np.inf)
        self.high = np.full(size, np.inf)
        self.low_off = np.zeros(size)
        self.high_off = np.zeros(size)
        self.before = np.zeros(size)

    @property
    def width(self) -> Floats:
        """Width of each bracket, rad; infinite where it is still open."""
        width: Floats = self.high - self.low
        return width

    def next_roll(self, roll: Floats, off: Floats, slope: Floats) -> Floats:
        """Take in the gap differences (mm) at these rolls; return where to look next, rad."""
        stayed = np.where(off * self.before > 0.0, 0.5, 1.0)
        self.before = off
        above = off > 0.0
        self.high_off = np.where(above, stayed * self.high_off, off)
        self.low_off = np.where(above, off, stayed * self.low_off)
        self.low, self.high = np.where(above, roll, self.low), np.where(above, self.high, roll)
        known = np.isfinite(self.width)
        with np.errstate(invalid="ignore"):
            secant = self.low + self.width * self.low_off / (self.low_off - self.high_off)
        following: Floats = np.where(known, secant, roll - off / slope)
        return following


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
    """Return the lowest of all parabolas through three nodes about a local minimum.

    At a kink no parabola fits and the node itself is taken.
    """
    nodes, gap, slope = gaps(side, shift=shift, roll=roll)
    row, at = np.nonzero(gap[:, 1:-1] <= gap.min(axis=1, keepdims=True) + DEEPEST_DIP_MM)
    at += 1
    before, here, after = gap[row, at - 1], gap[row, at], gap[row, at + 1]
    with np.errstate(invalid="ignore"):
        bend = before - 2.0 * here + after
        kinked = (bend <= LEAST_BEND_MM) | (bend >= KINK_MM)
        lean = np.where(kinked, 0.0, (before - after) / np.maximum(bend, LEAST_BEND_MM))
        dip = np.where(kinked, 0.0, 0.125 * (before - after) * lean)
    bottom = np.where((here <= before) & (here <= after), here - dip, np.inf)
    order = np.lexsort((bottom, row))
    best = order[np.searchsorted(row[order], np.arange(shift.size))]
    node, fraction = at[best], 0.5 * lean[best]
    across = side.wheel_place_mm + side.wheel.first_mm + nodes[node] * side.wheel.step_mm
    down = side.wheel.rows[Z, nodes[node]] - side.radius_mm
    cos, sin = np.cos(roll), np.sin(roll)
    turn = down * cos - across * sin
    return _Lowest(
        node=nodes[node] + fraction,
        gap=bottom[best],
        arm=-down * sin - across * cos - slope[np.arange(shift.size), node] * turn,
    )
