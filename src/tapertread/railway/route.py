"""The route of one track: its pieces chained along its length, through every kilometre jump.

Distances run in metres from the beginning of the first piece, in the direction of rising
kilometres. Curvature > 0 turns right (the left rail is the outer one). Cant > 0 raises the outer
rail. Within a transition curvature and cant run linearly from the piece before to the piece after;
two transitions that touch meet with neither curvature nor cant.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.errors import SurveyRefused, Where
from tapertread.railway.kilometres import (
    POST_TOLERANCE_M,
    Kilometres,
    build_kilometres,
    jump_label,
)
from tapertread.railway.records import KilometreJump, Lubricator, RoutePiece, Section

Floats = NDArray[np.float64]
Track = tuple[str, str]
"""Line and track."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A length of track of which the route says nothing."""

    from_m: float
    to_m: float
    from_km: float
    to_km: float

    @property
    def length_m(self) -> float:
        """Length of the gap, m."""
        return self.to_m - self.from_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One track of one line, chained.

    Attributes
    ----------
    line, track : str
        Which track of which line; parallel tracks are routes of their own.
    pieces : tuple of RoutePiece
        In order along the line.
    from_m, to_m : ndarray, shape (pieces,)
        Distance of both ends of each piece, m.
    kilometres : Kilometres
        The posts.
    origin_m : float
        Place, in the posts' own reckoning, of distance 0.
    curvature_ends_per_m : ndarray, shape (pieces, 2)
        Curvature at both ends of each piece, 1/m.
    left_raised_ends_mm : ndarray, shape (pieces, 2)
        How much the left rail stands above the right one at both ends, mm.
    """

    line: str
    track: str
    pieces: tuple[RoutePiece, ...]
    from_m: Floats
    to_m: Floats
    kilometres: Kilometres
    origin_m: float
    curvature_ends_per_m: Floats
    left_raised_ends_mm: Floats

    @property
    def length_m(self) -> float:
        """Distance of the end of the last piece, m."""
        return float(self.to_m[-1])

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Lengths between the pieces that no piece describes."""
        open_after = np.flatnonzero(self.from_m[1:] - self.to_m[:-1] > POST_TOLERANCE_M)
        return tuple(
            Gap(
                from_m=float(self.to_m[at]),
                to_m=float(self.from_m[at + 1]),
                from_km=self.pieces[at].to_km,
                to_km=self.pieces[at + 1].from_km,
            )
            for at in open_after
        )

    def distances_m(self, km: float) -> list[float]:
        """Return every distance (m) on this route that bears a kilometre, in order."""
        places = [place - self.origin_m for place in self.kilometres.places_m(km)]
        slack = POST_TOLERANCE_M
        return [at for at in places if -slack <= at <= self.length_m + slack]

    def distance_m(self, km: float, *, stretch: int | None = None) -> float:
        """Return the distance (m) of a kilometre.

        Parameters
        ----------
        km : float
            By the posts.
        stretch : int or None
            Run of posts it lies on, from 0; needed only where the kilometre exists twice.

        Raises
        ------
        SurveyRefused
            ``kilometre-not-on-route``, or ``kilometre-ambiguous`` on a long kilometre.
        """
        found = self.distances_m(km)
        if stretch is not None:
            place = self.kilometres.place_m(km, stretch=stretch)
            here = None if place is None else place - self.origin_m
            found = [at for at in found if here is not None and abs(at - here) < POST_TOLERANCE_M]
        if len(found) == 1:
            return min(max(found[0], 0.0), self.length_m)
        raise self._not_one_place(km, found)

    def distances_of(self, km: ArrayLike) -> Floats:
        """Return the distance (m) of each kilometre, shape kept.

        Raises
        ------
        SurveyRefused
            As `distance_m`, at the first kilometre that is not one place.
        """
        given = np.asarray(km, dtype=np.float64)
        unique, back = np.unique(given.ravel(), return_inverse=True)
        found = np.array([self.distance_m(float(one)) for one in unique])
        return found[back].reshape(given.shape)

    def km_of(self, distance_m: ArrayLike) -> Floats:
        """Return the kilometre of each distance (m); at a jump the one that continues."""
        return self.kilometres.km_at(np.asarray(distance_m, dtype=np.float64) + self.origin_m)

    def stretch_of(self, distance_m: ArrayLike) -> NDArray[np.int64]:
        """Return the run of posts, from 0, on which each distance (m) lies."""
        return self.kilometres.stretch_at(np.asarray(distance_m, dtype=np.float64) + self.origin_m)

    def piece_index(self, distance_m: ArrayLike) -> NDArray[np.int64]:
        """Return the piece of each distance (m), -1 in gaps and off the route; at a joint the next.

        The last piece holds its end.
        """
        at = np.asarray(distance_m, dtype=np.float64)
        index = np.searchsorted(self.from_m - POST_TOLERANCE_M, at, side="right") - 1
        reaches = self.to_m[np.maximum(index, 0)] + POST_TOLERANCE_M
        return np.where((index >= 0) & (at <= reaches), index, -1).astype(np.int64)

    def piece_at(self, km: float, *, stretch: int | None = None) -> RoutePiece:
        """Return the piece at a kilometre; at a joint the one that begins there.

        Raises
        ------
        SurveyRefused
            As `distance_m`, and ``place-in-gap``.
        """
        return self.pieces[int(self._pieces_of(self.distance_m(km, stretch=stretch)))]

    def curvature_per_m(self, distance_m: ArrayLike) -> Floats:
        """Return the curvature (1/m, > 0 turns right) at each distance (m).

        Raises
        ------
        SurveyRefused
            ``place-in-gap`` where no piece describes a place.
        """
        return self._between(self.curvature_ends_per_m, distance_m)

    def left_raised_mm(self, distance_m: ArrayLike) -> Floats:
        """Return how much the left rail stands above the right one (mm) at each distance (m).

        Raises
        ------
        SurveyRefused
            As `curvature_per_m`.
        """
        return self._between(self.left_raised_ends_mm, distance_m)

    def cant_mm(self, distance_m: ArrayLike) -> Floats:
        """Return the cant (mm, > 0 raises the outer rail; on straights: the left) at a distance.

        Raises
        ------
        SurveyRefused
            As `curvature_per_m`.
        """
        hand = np.where(self.curvature_per_m(distance_m) < 0.0, -1.0, 1.0)
        return hand * self.left_raised_mm(distance_m)

    def speed_kmh(self, distance_m: ArrayLike) -> Floats:
        """Return the line speed (km/h) at each distance (m).

        Raises
        ------
        SurveyRefused
            As `curvature_per_m`.
        """
        speeds: Floats = np.array([piece.speed_kmh for piece in self.pieces])
        return speeds[self._pieces_of(distance_m)]

    def place_of(self, found: Section | Lubricator) -> float:
        """Return the distance (m) of a section or lubricator by its kilometre and stretch.

        Raises
        ------
        SurveyRefused
            As `distance_m`.
        """
        return self.distance_m(found.km, stretch=found.stretch)

    def sharpest(self) -> RoutePiece:
        """Return the piece with the smallest radius."""
        return min(self.pieces, key=lambda piece: abs(piece.radius_m))

    def _between(self, ends: Floats, distance_m: ArrayLike) -> Floats:
        at = np.asarray(distance_m, dtype=np.float64)
        index = self._pieces_of(at)
        begin, end = self.from_m[index], self.to_m[index]
        share = np.clip((at - begin) / (end - begin), 0.0, 1.0)
        value: Floats = ends[index, 0] + share * (ends[index, 1] - ends[index, 0])
        return value

    def _pieces_of(self, distance_m: ArrayLike) -> NDArray[np.int64]:
        index = self.piece_index(distance_m)
        if (index < 0).any():
            at = float(np.asarray(distance_m, dtype=np.float64)[index < 0].ravel()[0])
            raise SurveyRefused(
                "place-in-gap",
                f"no piece of the route at {at:.1f} m",
                allowed=f"places that a piece describes, from 0 to {self.length_m:.1f} m",
                todo="complete the route table, or move the place",
                where=Where(record=f"{self.line} {self.track}"),
            )
        return index

    def _not_one_place(self, km: float, found: list[float]) -> SurveyRefused:
        where = Where(record=f"{self.line} {self.track} km {km:.3f}")
        if not found:
            ends = f"km {self.pieces[0].from_km:.3f} to {self.pieces[-1].to_km:.3f}"
            return SurveyRefused(
                "kilometre-not-on-route",
                f"km {km:.3f}, which no post of this track bears",
                allowed=f"kilometres of the route, {ends}, without those that its jumps leave out",
                todo="correct the kilometre, or complete route and equation table",
                where=where,
            )
        stretches = ", ".join(str(one) for one in self.stretch_of(found))
        return SurveyRefused(
            "kilometre-ambiguous",
            f"km {km:.3f}, which exists {len(found)} times (stretches {stretches})",
            allowed="one place",
            todo="say which run of posts it lies on in the column stretch (counted from 0)",
            where=where,
        )


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
