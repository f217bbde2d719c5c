"""The rolling contact search: for every shift the roll at which both wheels just touch.

Everything of one side is in that side's outward axes, so that left and right share all code: the
left side sees the mirrored shift and roll. Lengths in mm, angles in rad.

A wheel node at axle place ``Y = c + y`` and ``Z = z - r0`` lies, rolled by ``rho`` and shifted by
``u``, at ``x = u + Y cos(rho) + Z sin(rho)`` across and ``Z cos(rho) - Y sin(rho)`` above the axle
centre. The gap to the rail is taken node by node, the rail interpolated by a cubic through four
nodes. The smallest gap of each side is followed from shift to shift; after each solution one pass
over all nodes proves that no other place is closer.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from tapertread.contact._kernels.compile import kernel, smaller

Floats = NDArray[np.float64]
SideArrays = tuple[Floats, ...]

BLOCK = 4
STRIDE = 2
GAP_TOLERANCE_MM = 1e-7
SWITCH_TOLERANCE_MM = 1e-7
SWEEP_SLACK_MM = 0.05
LARGEST_ROLL_RAD = 0.15
LARGEST_ROLL_STEP_RAD = 0.002
SUBSTEPS = 16
NODE_MARGIN = 4

FOUND, NO_OVERLAP, NO_BALANCE, FOLDED = range(4)

(
    NODE,
    GAP,
    SECOND_NODE,
    SECOND_GAP,
) = range(4)
"""Columns of what the search returns per shift and side; a node may be fractional."""


@kernel
def sine(angle):
    """Return the sine of an angle below 0.2 rad to machine precision."""
    q = angle * angle
    return angle * (1.0 - q / 6.0 * (1.0 - q / 20.0 * (1.0 - q / 42.0 * (1.0 - q / 72.0))))


@kernel
def cosine(angle):
    """Return the cosine of an angle below 0.2 rad to machine precision."""
    q = angle * angle
    return 1.0 - q / 2.0 * (1.0 - q / 12.0 * (1.0 - q / 30.0 * (1.0 - q / 56.0 * (1.0 - q / 90.0))))


@kernel
def gap_at(i, wheel, rail, scene, u, cos, sin):
    """Return the exact gap of wheel node i over the rail.

    `scene` = (c, r0, wheel first, rail first, step), all in mm.
    """
    place_y = scene[0] + scene[2] + i * scene[4]
    place_z = wheel[i] - scene[1]
    x = (u + place_y * cos + place_z * sin - scene[3]) / scene[4]
    k = int(math.floor(x))
    k = min(max(k, 1), rail.shape[0] - 3)
    f = x - k
    height = (
        -f * (f - 1.0) * (f - 2.0) / 6.0 * rail[k - 1]
        + (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0 * rail[k]
        - (f + 1.0) * f * (f - 2.0) / 2.0 * rail[k + 1]
        + (f + 1.0) * f * (f - 1.0) / 6.0 * rail[k + 2]
    )
    return place_z * cos - place_y * sin - height


@kernel
def overlap(wheel, rail, scene, u, sin):
    """Return first and last wheel node that hangs over the rail with room for the cubic."""
    shift = (u + scene[0] + scene[2] - scene[1] * sin - scene[3]) / scene[4]
    first = max(NODE_MARGIN, int(math.ceil(NODE_MARGIN - shift)))
    last = min(
        wheel.shape[0] - 1 - NODE_MARGIN,
        int(math.floor(rail.shape[0] - 1 - NODE_MARGIN - shift)),
    )
    return first, last


@kernel
def descend(start, first, last, wheel, rail, scene, u, cos, sin):
    """Walk downhill from a node to a local minimum; return node, fraction and gap there.

    The fraction places the lowest point of the parabola through the three nodes.
    """
    i = min(max(start, first), last)
    here = gap_at(i, wheel, rail, scene, u, cos, sin)
    right = gap_at(i + 1, wheel, rail, scene, u, cos, sin)
    left = gap_at(i - 1, wheel, rail, scene, u, cos, sin)
    while right < here and i < last:
        left, here, i = here, right, i + 1
        right = gap_at(i + 1, wheel, rail, scene, u, cos, sin)
    while left < here and i > first:
        right, here, i = here, left, i - 1
        left = gap_at(i - 1, wheel, rail, scene, u, cos, sin)
    bend = left - 2.0 * here + right
    fraction = 0.0
    if bend > 1e-15:
        fraction = min(max(0.5 * (left - right) / bend, -0.5), 0.5)
        here -= 0.125 * (left - right) * (left - right) / bend
    return i, fraction, here


@kernel
def sweep(side, u, sin, first, last, blocks, gaps):
    """Fill the smallest gap of each block of every second node; return the block count.

    Only a sieve: the rail is interpolated linearly, and rolling moves each node sideways by
    ``z sin(rho)`` more than its neighbours, which is taken to first order into
    ``lever = Y + z dz/dy`` because at a contact both bodies have one slope. What passes the sieve
    is evaluated exactly.
    """
    _, wheel, lever, _, even, odd, scene = side
    x = (u + scene[0] + scene[2] - scene[1] * sin - scene[3]) / scene[4]
    whole = int(math.floor(x))
    share = x - whole
    begin = (first + STRIDE - 1) // STRIDE
    count = last // STRIDE - begin + 1
    at = begin * STRIDE + whole
    seen = wheel[begin : begin + count]
    arm = lever[begin : begin + count]
    if at % STRIDE == 0:
        here = even[at // STRIDE : at // STRIDE + count]
        there = odd[at // STRIDE : at // STRIDE + count]
    else:
        here = odd[at // STRIDE : at // STRIDE + count]
        there = even[at // STRIDE + 1 : at // STRIDE + 1 + count]
    for i in range(count):
        gaps[i] = seen[i] - sin * arm[i] - here[i] - share * (there[i] - here[i])
    number = count // BLOCK
    for b in range(number):
        blocks[b] = smaller(
            smaller(gaps[BLOCK * b], gaps[BLOCK * b + 1]),
            smaller(gaps[BLOCK * b + 2], gaps[BLOCK * b + 3]),
        )
    if number * BLOCK < count:
        low = gaps[number * BLOCK]
        for i in range(number * BLOCK, count):
            low = min(low, gaps[i])
        blocks[number] = low
        number += 1
    return begin, count, number


@kernel
def lowest_in_block(b, count, gaps):
    """Return the index of the smallest gap inside block b."""
    best = b * BLOCK
    for i in range(b * BLOCK, min((b + 1) * BLOCK, count)):
        if gaps[i] < gaps[best]:
            best = i
    return best


@kernel
def slope_arm(i, wheel, rail, scene, u, cos, sin):
    """Return the change of a side's smallest gap with its roll, mm per rad, at node i."""
    place_y = scene[0] + scene[2] + i * scene[4]
    place_z = wheel[i] - scene[1]
    x = (u + place_y * cos + place_z * sin - scene[3]) / scene[4]
    k = min(max(int(math.floor(x)), 1), rail.shape[0] - 3)
    rail_slope = (rail[k + 1] - rail[k]) / scene[4]
    return -place_z * sin - place_y * cos - rail_slope * (place_z * cos - place_y * sin)


@kernel
def balance(right, left, u, roll, starts):
    """Find the roll at which both sides' smallest gaps are equal, following given places.

    A side = (wheel, every second wheel node, their levers, rail, even and odd rail nodes, scene).
    Newton's step with the exact slope while it falls; bracketed as soon as both signs were seen.
    `starts` (nodes of right and left) is updated.
    """
    low, high = -LARGEST_ROLL_RAD, LARGEST_ROLL_RAD
    low_known = high_known = False
    for _ in range(60):
        cos, sin = cosine(roll), sine(roll)
        r_first, r_last = overlap(right[0], right[3], right[6], u, sin)
        l_first, l_last = overlap(left[0], left[3], left[6], -u, -sin)
        if r_last - r_first < 8 * BLOCK or l_last - l_first < 8 * BLOCK:
            return NO_OVERLAP, roll, 0.0, 0.0, 0.0
        ri, rf, rg = descend(starts[0], r_first, r_last, right[0], right[3], right[6], u, cos, sin)
        li, lf, lg = descend(starts[1], l_first, l_last, left[0], left[3], left[6], -u, cos, -sin)
        starts[0], starts[1] = ri, li
        off = rg - lg
        if abs(off) < GAP_TOLERANCE_MM:
            if ri in (r_first, r_last) or li in (l_first, l_last):
                return NO_OVERLAP, roll, 0.0, 0.0, 0.0
            return FOUND, roll, rg, rf, lf
        if off > 0.0:
            low, low_known = roll, True
        else:
            high, high_known = roll, True
        slope = slope_arm(ri, right[0], right[3], right[6], u, cos, sin) + slope_arm(
            li, left[0], left[3], left[6], -u, cos, -sin
        )
        trial = roll - off / min(slope, -100.0)
        if low_known and high_known:
            if high - low < 1e-14:
                return FOUND, roll, rg, rf, lf
            if trial <= low or trial >= high:
                trial = 0.5 * (low + high)
        if abs(trial) > LARGEST_ROLL_RAD:
            return NO_BALANCE, roll, 0.0, 0.0, 0.0
        roll = trial
    return NO_BALANCE, roll, 0.0, 0.0, 0.0


@kernel
def other_place(side, u, rho, node, gap, second, work, blocks):
    """Return node (fractional) and remaining gap of the closest place apart from `node`, or -1.

    Without `second` only places that may be closer than `gap` itself are looked at.
    """
    wheel, rail, scene = side[0], side[3], side[6]
    cos, sin = cosine(rho), sine(rho)
    first, last = overlap(wheel, rail, scene, u, sin)
    begin, count, number = sweep(side, u, sin, first, last, blocks, work)
    ceiling = gap + scene[1] * cos + SWEEP_SLACK_MM
    best_node, best_gap = -1.0, 1e9
    for b in range(1, number - 1):
        low = blocks[b]
        if low > ceiling and not second:
            continue
        if low > blocks[b - 1] or low > blocks[b + 1]:
            continue
        i = (begin + lowest_in_block(b, count, work)) * STRIDE
        if abs(i - node) <= 2 * BLOCK:
            continue
        found, fraction, exact = descend(i, first, last, wheel, rail, scene, u, cos, sin)
        if abs(found - node) > 2 * BLOCK and exact - gap < best_gap and first < found < last:
            best_gap = exact - gap
            best_node = found + fraction
    return best_node, best_gap


@kernel
def solve(right, left, u, roll, starts, work, blocks, second, out):
    """Solve one shift completely; return status, roll and axle height.

    `out` gets, for right and left: node, gap of it, second node, gap of that.
    """
    for _ in range(12):
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
        if r_gap < -SWITCH_TOLERANCE_MM:
            starts[0] = int(round(r_node))
        if l_gap < -SWITCH_TOLERANCE_MM:
            starts[1] = int(round(l_node))
    return NO_BALANCE, roll, 0.0


@kernel
def step_to(right, left, here, there, roll, guess, starts, work, blocks, second, out):
    """Go from a solved shift to the next; small steps where the roll changes fast.

    A roll that jumps even in small steps is a fold: the axle cannot shift further while the wheel
    climbs, so there is no stable contact beyond.
    """
    kept0, kept1 = starts[0], starts[1]
    status, found, height = solve(right, left, there, guess, starts, work, blocks, second, out)
    if status == FOUND and abs(found - roll) <= LARGEST_ROLL_STEP_RAD:
        return status, found, height
    starts[0], starts[1] = kept0, kept1
    before = roll
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
    return status, roll, height


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
