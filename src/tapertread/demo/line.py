"""The invented line: pieces of route between its curves, and the curvature at a post."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from tapertread.demo.plan import CurvePlan, Plan, TrackPlan
from tapertread.railway.records import KilometreJump, RoutePiece

_M = 1e-3
_PIECES_OF_CURVE: tuple[Literal["transition", "curve"], ...] = ("transition", "curve", "transition")


def route_pieces(plan: Plan) -> list[RoutePiece]:
    """Return the route of every track, in order of the posts."""
    return [piece for track in plan.track for piece in _track_pieces(plan, track)]


def kilometre_jumps(plan: Plan) -> list[KilometreJump]:
    """Return the equation table."""
    return [
        KilometreJump(line=plan.line, track=jump.track, km=jump.km, continues_km=jump.continues_km)
        for jump in plan.jump
    ]


def curvature_per_m(plan: Plan, km: float) -> float:
    """Return the curvature (1/m, > 0 turns right) at a post; linear along transitions."""
    for curve in plan.curve:
        along = (km - curve.km) / _M
        whole = curve.length_m + 2.0 * curve.transition_m
        if 0.0 <= along <= whole:
            into = min(along, whole - along) / curve.transition_m
            return min(1.0, into) / curve.radius_m
    return 0.0


def speed_kmh(plan: Plan, km: float) -> float:
    """Return the speed on straights at a post, km/h."""
    return [zone.speed_kmh for zone in plan.zone if zone.from_km <= km + 1e-9][-1]


def _track_pieces(plan: Plan, track: TrackPlan) -> Iterator[RoutePiece]:
    at = track.from_km
    for curve in plan.curve:
        if not track.from_km <= curve.km < track.to_km:
            continue
        yield from _straights(plan, track, begin_km=at, end_km=curve.km)
        at = curve.km
        lengths_m = (curve.transition_m, curve.length_m, curve.transition_m)
        for kind, length_m in zip(_PIECES_OF_CURVE, lengths_m, strict=True):
            end = round(at + length_m * _M, 6)
            yield _piece(plan, track, kind=kind, span_km=(at, end), curve=curve)
            at = end
    yield from _straights(plan, track, begin_km=at, end_km=track.to_km)


def _straights(
    plan: Plan, track: TrackPlan, *, begin_km: float, end_km: float
) -> Iterator[RoutePiece]:
    """Yield the straights between two posts, cut where the speed changes or the posts jump."""
    jumps = {jump.km: jump.continues_km for jump in plan.jump if jump.track == track.track}
    cuts = sorted({*jumps, *(zone.from_km for zone in plan.zone)})
    at = begin_km
    for cut in [*(km for km in cuts if begin_km < km < end_km), end_km]:
        if cut > at:
            yield _piece(plan, track, kind="straight", span_km=(at, cut))
        at = max(at, jumps.get(cut, cut))


def _piece(
    plan: Plan,
    track: TrackPlan,
    *,
    kind: Literal["straight", "transition", "curve"],
    span_km: tuple[float, float],
    curve: CurvePlan | None = None,
) -> RoutePiece:
    round_curve = kind == "curve" and curve is not None
    return RoutePiece(
        line=plan.line,
        track=track.track,
        from_km=span_km[0],
        to_km=span_km[1],
        kind=kind,
        radius_m=curve.radius_m if round_curve and curve else math.inf,
        cant_mm=curve.cant_mm if round_curve and curve else 0.0,
        speed_kmh=curve.speed_kmh if curve else speed_kmh(plan, span_km[0]),
        rising_share=track.rising_share,
        friction_state="greased" if _lubricated(plan, track, span_km) else "dry",
        tonnage_mt_per_year=track.tonnage_mt_per_year,
        gauge_mm=plan.gauge_mm,
    )


def _lubricated(plan: Plan, track: TrackPlan, span_km: tuple[float, float]) -> bool:
    return any(
        section.lubricated and section.track == track.track and span_km[0] < section.km < span_km[1]
        for section in plan.section
    )
