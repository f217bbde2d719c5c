"""Devices of the invented railway: from a true outline to the points that stand in a file."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tapertread.demo.ageing_rails import leaning
from tapertread.demo.chance import Chance
from tapertread.demo.faults import SPOILS, Seen, arc_mm, outward
from tapertread.demo.plan import DevicePlan, FaultPlan
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.outline import Floats, Outline

NOISE_GRID_MM = 0.25
LEAST_STEP = 0.35
FISHING_SLOPE = 1.0 / 3.0
FOOT_EDGE_MM = 11.0
FOOT_SLOPE = 1.0 / 7.0


def measured(
    true: Outline,
    device: DevicePlan,
    *,
    faults: Sequence[FaultPlan],
    chance: Chance,
    rail: str = "",
    inclination: float = 0.0,
) -> Floats:
    """Return the points (n, 2), mm, that a device writes down for a true outline.

    Parameters
    ----------
    true : Outline
        In its design's axes.
    device : DevicePlan
    faults : sequence of FaultPlan
        Planted on this outline.
    chance : Chance
        Stream of this outline.
    rail : str
        Design of the rail, for devices that see the whole section.
    inclination : float
        Lean of the rail, for devices that measure in the track plane.
    """
    points = np.stack((true.y_mm, true.z_mm), axis=1)
    points = _sampled(
        _whole(points, rail) if device.whole_section and rail else points, device, chance
    )
    sizes = {fault.trap: fault.size for fault in faults}
    sigma = sizes.get("correlated-noise", device.sigma_mm)
    shift = sigma * noise(arc_mm(points), device.correlation_mm, chance)
    points = points + shift[:, None] * outward(points, true.kind)
    for fault in faults:
        if fault.trap in SPOILS:
            seen = Seen(points=points, kind=true.kind, chance=chance)
            points = SPOILS[fault.trap](seen, fault.size)
    placed = _placed(
        true.with_points(*points.T), device, chance, sizes=sizes, inclination=inclination
    )
    return placed[_order(placed, device, chance)]


def noise(arc: Floats, correlation_mm: float, chance: Chance) -> Floats:
    """Return noise of deviation 1 along an arc (mm), correlated by 1/e at a distance (mm)."""
    count = int(arc[-1] / NOISE_GRID_MM) + 2
    reach = 2.0 * correlation_mm
    at = np.arange(-reach, reach + 0.5 * NOISE_GRID_MM, NOISE_GRID_MM)
    kernel = np.exp(-2.0 * (at / correlation_mm) ** 2)
    kernel /= np.sqrt(np.sum(kernel * kernel))
    smooth = np.convolve(chance.normal(count + at.size - 1), kernel, mode="valid")
    return np.asarray(np.interp(arc, NOISE_GRID_MM * np.arange(count), smooth), dtype=np.float64)


def _sampled(points: Floats, device: DevicePlan, chance: Chance) -> Floats:
    arc = arc_mm(points)
    count = int(arc[-1] / device.step_mm)
    steps = np.maximum(LEAST_STEP, 1.0 + device.density_scatter * chance.normal(count))
    at = np.concatenate(([0.0], np.cumsum(steps)))
    at *= arc[-1] / at[-1]
    return np.stack((np.interp(at, arc, points[:, 0]), np.interp(at, arc, points[:, 1])), axis=1)


def _whole(head: Floats, rail: str) -> Floats:
    """Return a head with the web and foot below it, from the middle of the foot all round.

    Sizes that the design does not state (fishing surfaces, foot edge) are invented.
    """
    anchors = {anchor.piece.name: anchor.piece for anchor in design_drawing(rail).anchors}
    web = abs(float(anchors["web"].start[0]))
    foot = max(
        abs(float(x))
        for x in (anchors["foot underside"].start[0], anchors["foot underside"].end[0])
    )
    ground = float(anchors["foot underside"].start[1])
    half, low = abs(float(head[0, 0])), float(head[0, 1])
    edge = ground + FOOT_EDGE_MM
    gauge = np.array(
        [
            [0.0, ground],
            [-foot, ground],
            [-foot, edge],
            [-web, edge + (foot - web) * FOOT_SLOPE],
            [-web, low - (half - web) * FISHING_SLOPE],
        ]
    )
    field = gauge[::-1] * np.array([-1.0, 1.0])
    return np.concatenate((gauge, head, field))


def _placed(
    outline: Outline,
    device: DevicePlan,
    chance: Chance,
    *,
    sizes: dict[str, float],
    inclination: float,
) -> Floats:
    """Return the points in the device's own axes: frame, tilt, origin, bias."""
    if device.frame == "track-plane":
        outline = leaning(outline, inclination)
    scatter = chance.normal(3)
    tilt = math.radians(device.tilt_deg * float(scatter[0]) + sizes.get("tilt", 0.0))
    bias = sizes.get("datum-bias", 0.0)
    moved = outline.moved(
        dy_mm=device.origin_mm[0] + device.origin_scatter_mm * float(scatter[1]) + bias,
        dz_mm=device.origin_mm[1] + device.origin_scatter_mm * float(scatter[2]) + bias,
        turn_rad=tilt,
    )
    return np.stack((moved.y_mm, moved.z_mm), axis=1)


def _order(points: Floats, device: DevicePlan, chance: Chance) -> NDArray[np.intp]:
    count = points.shape[0]
    if device.order == "shuffled":
        return chance.order(count)
    if device.order == "reversed":
        return np.arange(count)[::-1]
    if device.order == "two-runs":
        middle = count // 2
        return np.concatenate((np.arange(middle, count), np.arange(middle)[::-1]))
    return np.arange(count)
