"""Chaining the pieces of a track into a route, with every contradiction refused by name."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from tapertread.errors import SurveyRefused, Where
from tapertread.railway.kilometres import (
    POST_TOLERANCE_M,
    Floats,
    Kilometres,
    build_kilometres,
    jump_label,
)
from tapertread.railway.records import KilometreJump, RoutePiece
from tapertread.railway.route import Route, Track


def build_route(pieces: Sequence[RoutePiece], *, jumps: Sequence[KilometreJump] = ()) -> Route:
    """Chain the pieces of one track.

    Parameters
    ----------
    pieces : sequence of RoutePiece
        All of one line and track. Their order matters only on a long kilometre, where a piece
        follows the row before it.
    jumps : sequence of KilometreJump
        The equation table of the same track, in order along the line.

    Raises
    ------
    SurveyRefused
        ``route-empty``, ``piece-without-length``, ``piece-off-posts``, ``overlapping-kilometres``,
        ``curve-without-radius``, ``straight-with-radius``, ``transition-without-neighbour``, or
        the jumps contradict themselves.
    """
    if not pieces:
        raise SurveyRefused(
            "route-empty",
            "a route without pieces",
            allowed="at least one piece",
            todo="give the straights and curves of this track",
        )
    posts = build_kilometres(jumps)
    placed = sorted(_placed(pieces, posts), key=lambda item: item[1])
    _refuse_overlaps(placed)
    ordered = tuple(piece for piece, _, _ in placed)
    begin, end = (np.array([item[which] for item in placed]) for which in (1, 2))
    curvature, raised = _ends(ordered, begin - begin[0], end - begin[0])
    return Route(
        line=ordered[0].line,
        track=ordered[0].track,
        pieces=ordered,
        from_m=begin - begin[0],
        to_m=end - begin[0],
        kilometres=posts,
        origin_m=float(begin[0]),
        curvature_ends_per_m=curvature,
        left_raised_ends_mm=raised,
    )


def build_routes(
    pieces: Iterable[RoutePiece], *, jumps: Iterable[KilometreJump] = ()
) -> dict[Track, Route]:
    """Return the route of every line and track.

    Raises
    ------
    SurveyRefused
        As `build_route`, and ``jump-without-route`` for an equation of a track without pieces.
    """
    by_track: dict[Track, list[RoutePiece]] = defaultdict(list)
    for piece in pieces:
        by_track[piece.line, piece.track].append(piece)
    jumps_of: dict[Track, list[KilometreJump]] = defaultdict(list)
    for jump in jumps:
        if (jump.line, jump.track) not in by_track:
            raise _jump_without_route(jump)
        jumps_of[jump.line, jump.track].append(jump)
    return {key: build_route(group, jumps=jumps_of[key]) for key, group in by_track.items()}


def piece_label(piece: RoutePiece) -> str:
    """Return the words by which a person finds a piece."""
    return f"{piece.line} {piece.track} km {piece.from_km:.3f} to {piece.to_km:.3f}"


_Placed = tuple[RoutePiece, float, float]


def _placed(pieces: Sequence[RoutePiece], posts: Kilometres) -> list[_Placed]:
    """Return each piece with both ends as places (m) of the posts, in the order given."""
    placed: list[_Placed] = []
    for piece in pieces:
        _check_piece(piece)
        starts = posts.places_m(piece.from_km)
        after = placed[-1][2] if placed else -math.inf
        follow = [start for start in starts if start >= after - POST_TOLERANCE_M]
        if not starts:
            raise _off_posts(piece, piece.from_km)
        start = follow[0] if follow else starts[-1]
        ends = [end for end in posts.places_m(piece.to_km) if end > start + POST_TOLERANCE_M]
        if not ends:
            raise _off_posts(piece, piece.to_km)
        placed.append((piece, start, ends[0]))
    return placed


def _check_piece(piece: RoutePiece) -> None:
    if piece.from_km == piece.to_km:
        raise _refused_piece(
            piece,
            "piece-without-length",
            found="a piece that ends where it begins",
            allowed="pieces of some length",
            todo="take the row out, or correct one of its kilometres",
        )
    if piece.kind == "curve" and (math.isinf(piece.radius_m) or piece.radius_m == 0.0):
        raise _refused_piece(
            piece,
            "curve-without-radius",
            found="a curve without a radius",
            allowed="a radius (or degree) with its sign, > 0 turning right",
            todo="give the radius, or call the piece straight",
        )
    if piece.kind == "straight" and math.isfinite(piece.radius_m):
        raise _refused_piece(
            piece,
            "straight-with-radius",
            found=f"a straight with a radius of {piece.radius_m:g} m",
            allowed="a radius for curves only",
            todo="call the piece a curve, or take the radius out",
        )


def _refuse_overlaps(placed: Sequence[_Placed]) -> None:
    for (before, _, end), (piece, begin, _) in pairwise(placed):
        if begin < end - POST_TOLERANCE_M:
            raise _refused_piece(
                piece,
                "overlapping-kilometres",
                found=f"a piece that begins {end - begin:.1f} m before the end of "
                f"{piece_label(before)}",
                allowed="pieces that follow one another; on a long kilometre in the order "
                "along the line",
                todo="correct the kilometres, or give the jump of the posts in the equation table",
            )


def _ends(pieces: Sequence[RoutePiece], begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Return curvature (1/m) and raising of the left rail (mm) at both ends of each piece."""
    curvature = np.array([[0.0, 0.0] if _eases(p) else [1.0 / p.radius_m] * 2 for p in pieces])
    raised = np.array([[0.0, 0.0] if _eases(p) else [_left_raised(p)] * 2 for p in pieces])
    for at, piece in enumerate(pieces):
        if not _eases(piece):
            continue
        for side, beside in ((0, at - 1), (1, at + 1)):
            if not _touches(at, beside, begin=begin, end=end):
                raise _no_neighbour(piece, "before" if side == 0 else "after")
            curvature[at, side] = curvature[beside, 1 - side]
            raised[at, side] = raised[beside, 1 - side]
    return curvature, raised


def _eases(piece: RoutePiece) -> bool:
    return piece.kind == "transition"


def _left_raised(piece: RoutePiece) -> float:
    return -piece.cant_mm if piece.radius_m < 0.0 else piece.cant_mm


def _touches(at: int, beside: int, *, begin: Floats, end: Floats) -> bool:
    if not 0 <= beside < begin.size:
        return False
    first, second = min(at, beside), max(at, beside)
    return bool(begin[second] - end[first] <= POST_TOLERANCE_M)


def _refused_piece(
    piece: RoutePiece, code: str, *, found: str, allowed: str, todo: str
) -> SurveyRefused:
    where = Where(record=piece_label(piece))
    return SurveyRefused(code, found, allowed=allowed, todo=todo, where=where)


def _off_posts(piece: RoutePiece, km: float) -> SurveyRefused:
    return _refused_piece(
        piece,
        "piece-off-posts",
        found=f"km {km:.3f}, which the posts do not bear there",
        allowed="from_km to to_km in the direction of rising kilometres, on posts that exist",
        todo="correct the kilometres, or the equation table",
    )


def _no_neighbour(piece: RoutePiece, side: str) -> SurveyRefused:
    return _refused_piece(
        piece,
        "transition-without-neighbour",
        found=f"a transition with no piece {side} it",
        allowed="transitions between two pieces that touch them",
        todo="give the straight or the curve that it leads to",
    )


def _jump_without_route(jump: KilometreJump) -> SurveyRefused:
    return SurveyRefused(
        "jump-without-route",
        f"a jump of the posts of track {jump.track} of line {jump.line}, which has no pieces",
        allowed="jumps of tracks that the route table describes",
        todo="correct line and track, or give the route first",
        where=Where(record=jump_label(jump)),
    )
