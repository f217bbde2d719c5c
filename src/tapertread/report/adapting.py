"""From the records of lower rooms to what pictures ask for; nothing is computed anew here."""

from __future__ import annotations

import math

import numpy as np

from tapertread.contact.flange import FlangeContact
from tapertread.contact.pairing import Pairing
from tapertread.contact.steering import Steering, steer_curve
from tapertread.railway.route import Route
from tapertread.report.figures.curves import CurveNeeds
from tapertread.report.inputs import DesignsLike, Floats, Picture, Stretch


def stretches_of(route: Route) -> tuple[Stretch, ...]:
    """Return a route as stretches for the line strips, kilometre jumps taken out."""
    name = f"{route.line}, {route.track}" if route.track else route.line
    return tuple(
        Stretch(
            line=name,
            start_km=float(start) / 1000.0,
            end_km=float(end) / 1000.0,
            start_curvature_per_km=float(bend[0]) * 1000.0,
            end_curvature_per_km=float(bend[1]) * 1000.0,
            start_cant_mm=abs(float(raised[0])),
            end_cant_mm=abs(float(raised[1])),
            speed_kmh=piece.speed_kmh,
        )
        for piece, start, end, bend, raised in zip(
            route.pieces,
            route.from_m,
            route.to_m,
            route.curvature_ends_per_m,
            route.left_raised_ends_mm,
            strict=True,
        )
    )


def curve_needs(steering: Steering | None, flange: FlangeContact | None) -> CurveNeeds:
    """Return what a curve asks, in the signs of the difference curve (right - left, > 0 right).

    Steering speaks of outer less inner and of outward; in a right curve the left rail is the outer
    one, so both change their sign there.
    """
    free = None
    if flange is not None and flange.left_mm is not None and flange.right_mm is not None:
        free = (flange.left_mm, flange.right_mm)
    if steering is None or math.isinf(steering.curve_radius_m):
        return CurveNeeds(free_shifts_mm=free)
    hand = -1.0 if steering.curve_radius_m > 0.0 else 1.0
    outward = steering.equilibrium_outward_shift_mm
    return CurveNeeds(
        curve_radius_m=steering.curve_radius_m,
        needed_difference_mm=hand * steering.needed_difference_mm,
        equilibrium_shift_mm=None if outward is None else hand * outward,
        free_shifts_mm=free,
    )


def picture_of(
    finding_id: str,
    pairing: Pairing,
    *,
    curve_radius_m: float,
    smoothed_mm: Floats | None = None,
    designs: DesignsLike | None = None,
) -> Picture:
    """Return the picture of a pairing in a curve, at the shift where it ends up there.

    That is the shift of pure rolling; where the shape never reaches it, the last shift before the
    flange face bears; on straight line the main rolling line, or else the centre.

    Parameters
    ----------
    finding_id : str
        The finding it belongs to.
    pairing : Pairing
        Contact and steering of the pairing.
    curve_radius_m : float
        > 0 turns right, ``inf`` straight.
    smoothed_mm : ndarray, shape (shifts,), optional
        Elastic rolling radius difference.
    designs : DesignsLike, optional
        New outlines to draw behind.
    """
    steering = None
    shift = next((line.shift_mm for line in pairing.lines if line.stable), 0.0)
    if math.isfinite(curve_radius_m):
        steering = steer_curve(pairing.reach, curve_radius_m=curve_radius_m)
        outward = steering.equilibrium_outward_shift_mm
        hand = -1.0 if curve_radius_m > 0.0 else 1.0
        shift = hand * (steering.root_shift_mm if outward is None else outward)
    return Picture(
        finding_id=finding_id,
        table=pairing.table,
        curve_radius_m=curve_radius_m,
        shift_index=_nearest(pairing, shift),
        steering=steering,
        flange=pairing.flange,
        rolling_lines=pairing.lines,
        smoothed_mm=smoothed_mm,
        designs=designs,
    )


def _nearest(pairing: Pairing, shift_mm: float) -> int:
    """Return the row with contact nearest to a shift."""
    table = pairing.table
    away = np.abs(table.shift_mm - shift_mm)
    return int(np.argmin(np.where(np.isfinite(table.roll_rad), away, np.inf)))
