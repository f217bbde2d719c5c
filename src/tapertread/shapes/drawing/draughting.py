"""From the records of a drawing file to exact pieces: what a drawing leaves open is solved.

A piece is settled once its carrier, its beginning and its end are known. Passes over the drawing
settle what they can until nothing changes; a piece then still open is refused by name.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tapertread.errors import Where
from tapertread.shapes.drawing import refusals as refuse
from tapertread.shapes.drawing.carriers import Carrier, Circle, Graph, Straight, place_on
from tapertread.shapes.drawing.files import ratio
from tapertread.shapes.drawing.fillets import fillets
from tapertread.shapes.drawing.finishing import EMPTY_MM, ahead, finished
from tapertread.shapes.drawing.pieces import Piece, Point
from tapertread.shapes.drawing.records import (
    AnyPiece,
    ArcRecord,
    LineRecord,
    PolynomialRecord,
    TaperRecord,
)
from tapertread.shapes.outline import Kind

_LONGEST_FILLET = math.pi

ENDS = {
    "from": ("from_", "from_y", "from_z"),
    "to": ("to", "to_y", "to_z", "to_angle_deg"),
}


def metal_side(kind: Kind) -> float:
    """Return +1 where the metal lies left of the walk (wheels), -1 where right (rails)."""
    return 1.0 if kind == "wheel" else -1.0


@dataclass(slots=True)
class _Open:
    """A piece while it is being settled."""

    record: AnyPiece
    name: str
    where: Where
    carrier: Carrier | None = None
    start: Point | None = None
    end: Point | None = None

    @property
    def settled(self) -> bool:
        return self.carrier is not None and self.start is not None and self.end is not None

    def finished(self) -> Piece:
        """Return the exact piece, or refuse one that is not settled."""
        if self.carrier is None or self.start is None or self.end is None:
            raise refuse.too_little(self.missing, self.where)
        ends = (self.start, self.end)
        return finished(self.name, self.carrier, ends=ends, where=self.where)

    def leaves_until(self, end: Point) -> bool:
        """Return whether some length is left if the piece ends at a point of its carrier."""
        if self.carrier is None or self.start is None:
            return True
        return ahead(self.carrier, self.start, then=end)

    def leaves_from(self, start: Point) -> bool:
        """Return whether some length is left if the piece begins at a point of its carrier."""
        return self.carrier is None or self.end is None or ahead(self.carrier, start, then=self.end)

    @property
    def missing(self) -> str:
        if self.carrier is None:
            return "what it lies on"
        return "where it begins" if self.start is None else "where it ends"

    def bound(self, which: str) -> bool:
        """Return whether an end is fixed; a polynomial only says how far it may reach."""
        return bool(_said(self.record, which)) and not isinstance(self.record, PolynomialRecord)

    @property
    def is_fillet(self) -> bool:
        record = self.record
        return (
            isinstance(record, ArcRecord)
            and record.centre is None
            and not record.tangent
            and not _said(record, "from")
            and not _said(record, "to")
        )


def settle(
    records: Sequence[AnyPiece],
    *,
    kind: Kind,
    where: Callable[[int], Where],
    tolerance_mm: float,
) -> tuple[Piece, ...]:
    """Return the exact pieces of a chain of records.

    Parameters
    ----------
    records : sequence of piece records
        In walking order, lengths in mm.
    kind : {"wheel", "rail"}
        Says on which side of the walk the metal lies, so what convex means.
    where : callable
        Place in the file of the piece of an index.
    tolerance_mm : float
        How far a stated end may lie off the curve it is said to end, mm.

    Raises
    ------
    DrawingRefused
        If a piece says too much, too little, or cannot be drawn.
    """
    chain = [
        _Open(record, record.name or f"piece {index + 1}", where(index))
        for index, record in enumerate(records)
    ]
    for piece in chain:
        _check_said(piece)
    settler = _Settler(chain, turn_of_convex=metal_side(kind), tolerance_mm=tolerance_mm)
    while any(settler.advance(index) for index in range(len(chain))):
        pass
    return tuple(piece.finished() for piece in chain)


def _said(record: AnyPiece, which: str) -> list[str]:
    return [key.rstrip("_") for key in ENDS[which] if getattr(record, key) is not None]


def _check_said(piece: _Open) -> None:
    """Refuse a piece that states one thing twice."""
    record = piece.record
    stated = [_said(record, "from"), _said(record, "to")]
    if isinstance(record, LineRecord):
        stated.append([key for key in ("slope", "angle_deg") if getattr(record, key) is not None])
        stated[-1] += ["tangent"] if record.tangent else []
    if isinstance(record, ArcRecord):
        stated.append(["centre", "tangent"] if record.centre and record.tangent else [])
    for keys in stated:
        if len(keys) > 1:
            raise refuse.stated_twice(keys, piece.where)


class _Settler:
    """Rules by which open pieces are settled from one another."""

    def __init__(self, chain: list[_Open], *, turn_of_convex: float, tolerance_mm: float) -> None:
        self.chain = chain
        self.turn_of_convex = turn_of_convex
        self.tolerance_mm = tolerance_mm

    def advance(self, index: int) -> bool:
        """Settle what can be settled of one piece; return whether anything was."""
        piece = self.chain[index]
        before = (piece.carrier, piece.start, piece.end)
        if piece.is_fillet:
            self._settle_fillet(index)
        else:
            if piece.carrier is None:
                piece.carrier = self._carrier(index)
            if piece.carrier is not None:
                piece.start = piece.start or self._start(index)
                piece.end = piece.end or self._end(index)
        return before != (piece.carrier, piece.start, piece.end)

    def _before(self, index: int) -> _Open | None:
        return self.chain[index - 1] if index > 0 else None

    def _after(self, index: int) -> _Open | None:
        return self.chain[index + 1] if index + 1 < len(self.chain) else None

    def _reach(self, record: ArcRecord) -> float:
        """Return the signed radius (mm) of an arc, > 0 where it turns from y toward z."""
        turn = self.turn_of_convex if record.curve == "convex" else -self.turn_of_convex
        return turn * record.radius

    def _first_point(self, index: int) -> Point | None:
        """Return where a piece begins if that is known without its carrier."""
        piece, before = self.chain[index], self._before(index)
        if piece.record.from_ is not None:
            return piece.record.from_
        return None if before is None else before.end

    def _heading_before(self, index: int) -> float | None:
        before = self._before(index)
        if before is None or before.carrier is None or before.end is None:
            return None
        return before.carrier.heading(before.end)

    def _carrier(self, index: int) -> Carrier | None:
        record = self.chain[index].record
        if isinstance(record, TaperRecord):
            return Straight(record.through, math.atan(ratio(record.slope)))
        if isinstance(record, LineRecord):
            return self._straight(index, record)
        if isinstance(record, PolynomialRecord):
            return self._graph(index, record)
        return self._circle(index, record)

    def _straight(self, index: int, record: LineRecord) -> Straight | None:
        through = record.through or self._first_point(index)
        if through is None:
            return None
        if record.angle_deg is not None:
            return Straight(through, math.radians(record.angle_deg))
        if record.slope is not None:
            return Straight(through, math.atan(ratio(record.slope)))
        if record.tangent:
            heading = self._heading_before(index)
            return None if heading is None else Straight(through, heading)
        if record.to is None:
            return None
        if math.dist(through, record.to) <= EMPTY_MM:
            raise refuse.empty(self.chain[index].where)
        return Straight(through, math.atan2(record.to[1] - through[1], record.to[0] - through[0]))

    def _graph(self, index: int, record: PolynomialRecord) -> Graph | None:
        """Return a polynomial; beside a fillet its range says where to look for tangency."""
        before = self._before(index)
        begins = record.from_ is not None or record.from_y is not None
        if record.to_y is None or not (begins or (before and not before.is_fillet)):
            raise refuse.no_range(self.chain[index].where)
        from_mm = record.from_y
        if from_mm is None:
            begin = self._first_point(index)
            if begin is None:
                return None
            from_mm = begin[0]
        return Graph(
            coefficients=record.coefficients,
            about_mm=record.about_y,
            from_mm=from_mm,
            to_mm=record.to_y,
        )

    def _circle(self, index: int, record: ArcRecord) -> Circle | None:
        reach = self._reach(record)
        if record.centre is not None:
            return Circle(record.centre, reach)
        begin = self._first_point(index)
        if begin is None:
            return None
        if record.tangent:
            heading = self._heading_before(index)
            if heading is None:
                return None
            centre = begin[0] - reach * math.sin(heading), begin[1] + reach * math.cos(heading)
            return Circle(centre, reach)
        if record.to is None:
            return None
        return _circle_through(begin, record.to, reach_mm=reach, where=self.chain[index].where)

    def _start(self, index: int) -> Point | None:
        piece, before = self.chain[index], self._before(index)
        record, carrier = piece.record, piece.carrier
        assert carrier is not None
        if record.from_ is not None:
            return self._on_curve(piece, record.from_)
        if record.from_y is not None:
            return _placed(piece, place_on(carrier, y_mm=record.from_y), key="from_y")
        if record.from_z is not None:
            return _placed(piece, place_on(carrier, z_mm=record.from_z), key="from_z")
        if before is None or before.end is None:
            return None
        return carrier.project(before.end)

    def _end(self, index: int) -> Point | None:
        piece, after = self.chain[index], self._after(index)
        record, carrier = piece.record, piece.carrier
        assert carrier is not None
        if _said(record, "to"):
            return self._stated_end(piece, carrier)
        if after is None or after.is_fillet or after.carrier is None:
            return None
        if after.start is not None and _said(after.record, "from"):
            return carrier.project(after.start)
        if isinstance(carrier, Straight) and isinstance(after.carrier, Straight):
            return carrier.crossing(after.carrier)
        return None

    def _stated_end(self, piece: _Open, carrier: Carrier) -> Point | None:
        record = piece.record
        if record.to is not None:
            return self._on_curve(piece, record.to)
        if isinstance(carrier, Circle) and piece.start is None:
            return None
        (key,) = _said(record, "to")
        angle = None if record.to_angle_deg is None else math.radians(record.to_angle_deg)
        end = place_on(
            carrier, y_mm=record.to_y, z_mm=record.to_z, angle_rad=angle, after=piece.start
        )
        return _placed(piece, end, key=key)

    def _on_curve(self, piece: _Open, point: Point) -> Point:
        """Return a stated end moved onto the curve, if it was there within the tolerance."""
        assert piece.carrier is not None
        foot = piece.carrier.project(point)
        off = math.dist(foot, point)
        if off > self.tolerance_mm:
            raise refuse.off_curve(
                point, off_mm=off, tolerance_mm=self.tolerance_mm, where=piece.where
            )
        return foot

    def _settle_fillet(self, index: int) -> None:
        piece, before, after = self.chain[index], self._before(index), self._after(index)
        record = piece.record
        assert isinstance(record, ArcRecord)
        if before is None or after is None or before.is_fillet or after.is_fillet:
            raise refuse.fillet_alone(piece.where)
        if before.bound("to") or after.bound("from"):
            raise refuse.fillet_bound(piece.where)
        if piece.settled or before.carrier is None or after.carrier is None:
            return
        reach = self._reach(record)
        found = fillets(before.carrier, after.carrier, reach_mm=reach)
        sweeps = {
            Circle(fillet.centre, reach).walked(fillet.start, fillet.end): fillet
            for fillet in found
            if before.leaves_until(fillet.start) and after.leaves_from(fillet.end)
        }
        least = min(sweeps, default=_LONGEST_FILLET)
        if least >= _LONGEST_FILLET:
            raise refuse.no_fillet(before.name, after.name, where=piece.where)
        fillet = sweeps[least]
        piece.carrier = Circle(fillet.centre, reach)
        piece.start = before.end = fillet.start
        piece.end = after.start = fillet.end


def _circle_through(start: Point, end: Point, *, reach_mm: float, where: Where) -> Circle:
    """Return the circle of signed radius `reach_mm` whose shorter arc joins two points."""
    chord = math.dist(start, end)
    if chord <= EMPTY_MM:
        raise refuse.empty(where)
    rest = reach_mm * reach_mm - 0.25 * chord * chord
    if rest < 0.0:
        raise refuse.radius_too_small(radius_mm=abs(reach_mm), chord_mm=chord, where=where)
    away = math.copysign(math.sqrt(rest), reach_mm) / chord
    centre = (
        0.5 * (start[0] + end[0]) - away * (end[1] - start[1]),
        0.5 * (start[1] + end[1]) + away * (end[0] - start[0]),
    )
    return Circle(centre, reach_mm)


def _placed(piece: _Open, point: Point | None, *, key: str) -> Point:
    if point is None:
        raise refuse.not_reached(key, getattr(piece.record, key), where=piece.where)
    return point
