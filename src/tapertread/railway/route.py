"""The route of one track: its pieces chained along its length, through every kilometre jump.

Distances run in metres from the beginning of the first piece, in the direction of rising
kilometres. Curvature > 0 turns right (the left rail is the outer one). Cant > 0 raises the outer
rail. Within a transition curvature and cant run linearly from the piece before to the piece after;
two transitions that touch meet with neither curvature nor cant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.errors import SurveyRefused, Where
from tapertread.railway.kilometres import POST_TOLERANCE_M, Floats, Kilometres
from tapertread.railway.records import Lubricator, RoutePiece, Section

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
