"""The rolling contact search: for every shift the roll at which both wheels just touch.

The smallest gap of each side is followed from shift to shift; after each solution one pass over all
nodes proves that no other place is closer. Axes and sides as in `gaps`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tapertread.contact._kernels.compile import kernel
from tapertread.contact._kernels.gaps import (
    BLOCK,
    HALF,
    STRIDE,
    SWITCH_TOLERANCE_MM,
    Floats,
    cosine,
    descend,
    other_place,
    overlap,
    sine,
    slope_arm,
)

SideArrays = tuple[Floats, ...]

SWITCHES = 24
GAP_TOLERANCE_MM = 1e-7
ROLL_TOLERANCE_RAD = 1e-14
BALANCE_STEPS = 60
FLATTEST_SHARE = 0.05
LARGEST_ROLL_RAD = 0.15
LARGEST_ROLL_STEP_RAD = 0.002
SUBSTEPS = 16
FEW_SUBSTEPS = 4
SAME_ROLL_RAD = 1e-9

FOUND, NO_OVERLAP, NO_BALANCE, FOLDED = range(4)

NODE, GAP, SECOND_NODE, SECOND_GAP = range(4)
"""Columns of what the search returns per shift and side; a node may be fractional."""


@kernel
def balance(right, left, u, roll, starts):
    """Find the roll at which both sides' smallest gaps are equal, following given places.

    Newton's step until both signs were seen, then the secant of the bracket; an end that stays
    counts half. `starts` (nodes of right and left) is updated.
    """
    low, high = -LARGEST_ROLL_RAD, LARGEST_ROLL_RAD
    low_off, high_off, before = 0.0, 0.0, 0.0
    flattest = -FLATTEST_SHARE * (right[6][0] + left[6][0])
    for _ in range(BALANCE_STEPS):
        cos, sin = cosine(roll), sine(roll)
        r_first, r_last = overlap(right[0], right[3], right[6], u, sin)
        l_first, l_last = overlap(left[0], left[3], left[6], -u, -sin)
        if r_last - r_first < 8 * BLOCK or l_last - l_first < 8 * BLOCK:
            return NO_OVERLAP, roll, 0.0, 0.0, 0.0
        ri, rf, rg = descend(starts[0], r_first, r_last, right[0], right[3], right[6], u, cos, sin)
        li, lf, lg = descend(starts[1], l_first, l_last, left[0], left[3], left[6], -u, cos, -sin)
        starts[0], starts[1] = ri, li
        off = rg - lg
        if abs(off) < GAP_TOLERANCE_MM or high - low < ROLL_TOLERANCE_RAD:
            if ri in (r_first, r_last) or li in (l_first, l_last):
                return NO_OVERLAP, roll, 0.0, 0.0, 0.0
            return FOUND, roll, rg, rf, lf
        stayed = HALF if off * before > 0.0 else 1.0
        before = off
        if off > 0.0:
            low, low_off, high_off = roll, off, stayed * high_off
        else:
            high, high_off, low_off = roll, off, stayed * low_off
        if low_off > 0.0 and high_off < 0.0:
            roll = low + (high - low) * low_off / (low_off - high_off)
        else:
            slope = slope_arm(ri, rf, right[0], right[6], cos, sin)
            slope += slope_arm(li, lf, left[0], left[6], cos, -sin)
            roll -= off / min(slope, flattest)
            if abs(roll) > LARGEST_ROLL_RAD:
                return NO_BALANCE, roll, 0.0, 0.0, 0.0
    return NO_BALANCE, roll, 0.0, 0.0, 0.0


@kernel
def solve(right, left, u, roll, starts, work, blocks, second, out):
    """Solve one shift completely; return status, roll and axle height.

    Where both sides know a closer place, the side further off moves first: with the roll still
    wrong the other one's may be no contact at all.

    `out` gets, for right and left: node, gap of it, second node, gap of that.
    """
    for _ in range(SWITCHES):
        status, roll, gap, rf, lf = balance(right, left, u, roll, starts)
        if status != FOUND:
            return status, roll, 0.0
        r_node, r_gap = other_place(right, u, roll, starts[0], gap, second, work, blocks)
        l_node, l_gap = other_place(left, -u, -roll, starts[1], gap, second, work, blocks)
        if r_gap >= -SWITCH_TOLERANCE_MM and l_gap >= -SWITCH_TOLERANCE_MM:
            out[0, NODE], out[0, GAP] = starts[0] + rf, gap
            out[1, NODE], out[1, GAP] = starts[1] + lf, gap
            out[0, SECOND_NODE], out[0, SECOND_GAP] = r_node, r_gap
            out[1, SECOND_NODE], out[1, SECOND_GAP] = l_node, l_gap
            return FOUND, roll, -gap
        if r_gap <= l_gap:
            starts[0] = int(round(r_node))
        else:
            starts[1] = int(round(l_node))
    return NO_BALANCE, roll, 0.0


@kernel
def follow(right, left, here, there, roll, starts, parts):
    """Follow the present places in equal small steps; return status and roll.

    FOLDED means only that a step was too large for the roll to follow.
    """
    before = roll
    for part in range(1, parts + 1):
        u = here + (there - here) * part / parts
        status, found, _, _, _ = balance(right, left, u, roll + (roll - before), starts)
        if status != FOUND:
            return status, found
        if abs(found - roll) > LARGEST_ROLL_STEP_RAD:
            return FOLDED, found
        before, roll = roll, found
    return FOUND, roll


@kernel
def creep(right, left, here, there, roll, starts, work, blocks, second, out):
    """Go to the next shift in small steps, each of them solved completely."""
    before = roll
    height = 0.0
    for part in range(1, SUBSTEPS + 1):
        u = here + (there - here) * part / SUBSTEPS
        status, found, height = solve(
            right, left, u, roll + (roll - before), starts, work, blocks, second, out
        )
        if status != FOUND:
            return status, found, height
        if abs(found - roll) > LARGEST_ROLL_STEP_RAD:
            return FOLDED, found, height
        before, roll = roll, found
    return FOUND, roll, height


@kernel
def step_to(right, left, here, there, roll, guess, starts, work, blocks, second, out):
    """Go from a solved shift to the next; in smaller steps where the roll changes fast.

    A roll that jumps even in small steps is a fold: the axle cannot shift further while the wheel
    climbs, so there is no stable contact beyond.
    """
    kept0, kept1 = starts[0], starts[1]
    status, found, height = solve(right, left, there, guess, starts, work, blocks, second, out)
    leap = abs(found - roll)
    if status == FOUND and leap <= LARGEST_ROLL_STEP_RAD:
        return status, found, height
    starts[0], starts[1] = kept0, kept1
    if status == FOUND and leap <= FEW_SUBSTEPS * LARGEST_ROLL_STEP_RAD:
        status, followed = follow(right, left, here, there, roll, starts, FEW_SUBSTEPS)
        if status == FOUND:
            status, again, height = solve(
                right, left, there, followed, starts, work, blocks, second, out
            )
            if status == FOUND and abs(again - followed) < SAME_ROLL_RAD:
                return status, again, height
        starts[0], starts[1] = kept0, kept1
    return creep(right, left, here, there, roll, starts, work, blocks, second, out)


@kernel
def search(
    right: SideArrays,
    left: SideArrays,
    shifts: Floats,
    middle: int,
    second: bool,
    rolls: Floats,
    heights: Floats,
    nodes: Floats,
    statuses: NDArray[np.int64],
) -> None:
    """Fill rolls, heights (shifts,), nodes (shifts, 2, 4) and statuses, outward from `middle`."""
    length = max(right[0].shape[0], left[0].shape[0])
    work = np.empty(length // STRIDE + 2)
    blocks = np.empty(length // STRIDE // BLOCK + 3)
    centre = np.array([right[0].shape[0] // 2, left[0].shape[0] // 2])
    starts = centre.copy()
    statuses[:] = NO_OVERLAP
    status, roll0, height = solve(
        right, left, shifts[middle], 0.0, centre, work, blocks, second, nodes[middle]
    )
    statuses[middle], rolls[middle], heights[middle] = status, roll0, height
    if status != FOUND:
        return
    for way in (1, -1):
        starts[0], starts[1] = centre[0], centre[1]
        roll = before = roll0
        i = middle + way
        while 0 <= i < shifts.shape[0]:
            guess = roll + (roll - before)
            status, found, height = step_to(
                right,
                left,
                shifts[i - way],
                shifts[i],
                roll,
                guess,
                starts,
                work,
                blocks,
                second,
                nodes[i],
            )
            if status != FOUND:
                break
            before, roll = roll, found
            statuses[i], rolls[i], heights[i] = status, roll, height
            i += way
        while 0 <= i < shifts.shape[0]:
            statuses[i] = status
            i += way
