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

HALF, THIRD = 1.0 / 2.0, 1.0 / 3.0
BLOCK = 4
STRIDE = 2
APART_NODES = 8
SWITCHES = 24
GAP_TOLERANCE_MM = 1e-7
SWITCH_TOLERANCE_MM = 1e-7
ROLL_TOLERANCE_RAD = 1e-14
BALANCE_STEPS = 60
FLATTEST_SLOPE = -100.0
SWEEP_SLACK_MM = 0.05
SWEEP_ERROR_MM = 0.02
LARGEST_ROLL_RAD = 0.15
LARGEST_ROLL_STEP_RAD = 0.002
SUBSTEPS = 16
FEW_SUBSTEPS = 4
SAME_ROLL_RAD = 1e-9
NODE_MARGIN = 4
INSIDE = 0.4999
KINK_MM = 0.5

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
    rise = rail[k + 1] - rail[k]
    bend = rise - rail[k] + rail[k - 1]
    twist = rail[k + 2] - rail[k + 1] - rise - bend
    height = rail[k] + f * (rise + HALF * (f - 1.0) * (bend + THIRD * (f + 1.0) * twist))
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

    The fraction places the lowest point of the parabola through the three nodes; at a kink, such
    as the edge of a steep flank, no parabola fits and the node itself is lowest.
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
    if 1e-15 < bend < KINK_MM:
        fraction = min(max(0.5 * (left - right) / bend, -INSIDE), INSIDE)
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
def slope_arm(i, fraction, wheel, scene, cos, sin):
    """Return the change of a side's smallest gap with its roll, mm per rad, at a wheel place.

    Where the bodies touch they have one slope; the wheel's is taken, as it needs no search.
    """
    place_y = scene[0] + scene[2] + i * scene[4]
    place_z = wheel[i] - scene[1]
    ahead, behind = wheel[i + 1] - wheel[i], wheel[i] - wheel[i - 1]
    slope = (HALF * (ahead + behind) + fraction * (ahead - behind)) / scene[4]
    # in the track's axes the tangent has turned with the wheel
    slope = (slope * cos - sin) / (cos + slope * sin)
    return -place_z * sin - place_y * cos - slope * (place_z * cos - place_y * sin)


@kernel
def balance(right, left, u, roll, starts):
    """Find the roll at which both sides' smallest gaps are equal, following given places.

    A side = (wheel, every second wheel node, their levers, rail, even and odd rail nodes, scene).
    Newton's step until both signs were seen, then the secant of the bracket; an end that stays
    counts half. `starts` (nodes of right and left) is updated.
    """
    low, high = -LARGEST_ROLL_RAD, LARGEST_ROLL_RAD
    low_off, high_off, before = 0.0, 0.0, 0.0
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
            roll -= off / min(slope, FLATTEST_SLOPE)
            if abs(roll) > LARGEST_ROLL_RAD:
                return NO_BALANCE, roll, 0.0, 0.0, 0.0
    return NO_BALANCE, roll, 0.0, 0.0, 0.0


@kernel
def other_place(side, u, rho, node, gap, second, work, blocks):
    """Return node (fractional) and remaining gap of the closest place apart from `node`, or -1.

    A place that is closer than `gap` counts wherever it is; any other only beyond `APART_NODES`,
    and only where `second` asks for it.
    """
    wheel, rail, scene = side[0], side[3], side[6]
    cos, sin = cosine(rho), sine(rho)
    first, last = overlap(wheel, rail, scene, u, sin)
    begin, count, number = sweep(side, u, sin, first, last, blocks, work)
    lowest = blocks[0]
    for b in range(1, number):
        lowest = smaller(lowest, blocks[b])
    ceiling = lowest + SWEEP_SLACK_MM
    best_node, best_gap = -1.0, 1e9
    for b in range(1, number - 1):
        low = blocks[b]
        if low > ceiling and not second:
            continue
        if low > min(blocks[b - 1], blocks[b + 1]):
            if low > lowest + SWEEP_ERROR_MM:
                continue
            at = lowest_in_block(b, count, work)
            if work[at] > min(work[at - 1], work[at + 1]):
                continue
        else:
            at = lowest_in_block(b, count, work)
        i = (begin + at) * STRIDE
        if abs(i - node) <= 1:
            continue
        found, fraction, exact = descend(i, first, last, wheel, rail, scene, u, cos, sin)
        left_over = exact - gap
        apart = abs(found - node)
        if apart <= 1 or left_over >= best_gap or found <= first or found >= last:
            continue
        if apart > APART_NODES or left_over < -SWITCH_TOLERANCE_MM:
            best_gap = left_over
            best_node = found + fraction
    return best_node, best_gap


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
