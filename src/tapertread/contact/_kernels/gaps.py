"""Gaps of one side's wheel over its rail: at a node, downhill from it, and over all of it.

Everything is in the side's own outward axes, so that left and right share all code: the left side
sees the mirrored shift and roll. Lengths in mm, angles in rad.

A wheel node at axle place ``Y = c + y`` and ``Z = z - r0`` lies, rolled by ``rho`` and shifted by
``u``, at ``x = u + Y cos(rho) + Z sin(rho)`` across and ``Z cos(rho) - Y sin(rho)`` above the axle
centre. The gap to the rail is taken node by node, the rail interpolated by a cubic through four
nodes.

A side is (wheel, every second wheel node, their levers, rail, even and odd rail nodes, scene), all
arrays; `scene` = (c, r0, wheel first, rail first, step).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from tapertread.contact._kernels.compile import kernel, smaller

Floats = NDArray[np.float64]

HALF, THIRD = 1.0 / 2.0, 1.0 / 3.0
BLOCK = 4
STRIDE = 2
APART_NODES = 8
NODE_MARGIN = 4
INSIDE = 0.4999
KINK_MM = 0.5
SWITCH_TOLERANCE_MM = 1e-7
SWEEP_SLACK_MM = 0.05
SWEEP_ERROR_MM = 0.02


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
    """Return the exact gap of wheel node i over the rail."""
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
