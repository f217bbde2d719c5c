"""From the records of a drawing file to exact pieces: what a drawing leaves open is solved.

A piece is settled once its carrier, its beginning and its end are known. Passes over the drawing
settle what they can until nothing changes; a piece then still open is refused by name.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tapertread.errors import Where
from tapertread.shapes import drawing_refusals as refuse
from tapertread.shapes.carriers import Carrier, Circle, Graph, Straight, place_on
from tapertread.shapes.drawing_file import ratio
from tapertread.shapes.drawing_records import (
    AnyPiece,
    ArcRecord,
    LineRecord,
    PolynomialRecord,
    TaperRecord,
)
from tapertread.shapes.fillets import Fillet, fillets
from tapertread.shapes.outline import Kind
from tapertread.shapes.pieces import TURN, Arc, Line, Piece, Point, Polynomial

_EMPTY_MM = 1e-9
_LONGEST_SWEEP = 1.5 * math.pi
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
    for piece in chain:
        if not piece.settled:
            raise refuse.too_little(piece.missing, piece.where)
    return tuple(_exact(piece) for piece in chain)


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

    def _turn(self, record: ArcRecord) -> float:
        return self.turn_of_convex if record.curve == "convex" else -self.turn_of_convex

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
        self._check_apart(self.chain[index], through, record.to)
        return Straight(through, math.atan2(record.to[1] - through[1], record.to[0] - through[0]))

    def _check_apart(self, piece: _Open, start: Point, end: Point) -> None:
        if math.dist(start, end) <= _EMPTY_MM:
            raise refuse.empty(piece.where)

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
        return Graph(record.coefficients, record.about_y, from_mm, record.to_y)

    def _circle(self, index: int, record: ArcRecord) -> Circle | None:
        turn = self._turn(record)
        if record.centre is not None:
            return Circle(record.centre, record.radius, turn)
        begin = self._first_point(index)
        if begin is None:
            return None
        if record.tangent:
            heading = self._heading_before(index)
            if heading is None:
                return None
            reach = turn * record.radius
            centre = begin[0] - reach * math.sin(heading), begin[1] + reach * math.cos(heading)
            return Circle(centre, record.radius, turn)
        if record.to is None:
            return None
        return _circle_through(self.chain[index], begin, record.to, record.radius * turn)

    def _start(self, index: int) -> Point | None:
        piece, before = self.chain[index], self._before(index)
        record, carrier = piece.record, piece.carrier
        assert carrier is not None
        if record.from_ is not None:
            return self._on_curve(piece, record.from_)
        if record.from_y is not None:
            return _placed(piece, place_on(carrier, y_mm=record.from_y), "from_y")
        if record.from_z is not None:
            return _placed(piece, place_on(carrier, z_mm=record.from_z), "from_z")
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
        return _placed(piece, end, key)

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
        turn = self._turn(record)
        found = fillets(before.carrier, after.carrier, radius_mm=record.radius, turn=turn)
        fillet = _shortest(found, record.radius, turn, before, after)
        if fillet is None:
            raise refuse.no_fillet(before.name, after.name, piece.where)
        piece.carrier = Circle(fillet.centre, record.radius, turn)
        piece.start = before.end = fillet.start
        piece.end = after.start = fillet.end


def _shortest(
    found: Sequence[Fillet], radius_mm: float, turn: float, before: _Open, after: _Open
) -> Fillet | None:
    """Return the fillet that turns least among those that leave its neighbours some length."""
    assert before.carrier is not None
    assert after.carrier is not None
    kept = []
    for fillet in found:
        sweep = Circle(fillet.centre, radius_mm, turn).walked(fillet.start, fillet.end)
        leaves_before = before.start is None or _ahead(before.carrier, before.start, fillet.start)
        leaves_after = after.end is None or _ahead(after.carrier, fillet.end, after.end)
        if leaves_before and leaves_after and sweep < _LONGEST_FILLET:
            kept.append((sweep, fillet))
    return min(kept, key=lambda item: item[0])[1] if kept else None


def _ahead(carrier: Carrier, first: Point, then: Point) -> bool:
    """Return whether a point follows another in the sense of the walk."""
    if isinstance(carrier, Circle):
        return 0.0 < carrier.walked(first, then) < _LONGEST_SWEEP
    heading = carrier.heading(first)
    return (then[0] - first[0]) * math.cos(heading) + (then[1] - first[1]) * math.sin(heading) > 0.0


def _circle_through(piece: _Open, start: Point, end: Point, reach: float) -> Circle:
    """Return the circle of signed radius `reach` whose shorter arc joins two points."""
    chord = math.dist(start, end)
    if chord <= _EMPTY_MM:
        raise refuse.empty(piece.where)
    rest = reach * reach - 0.25 * chord * chord
    if rest < 0.0:
        raise refuse.radius_too_small(radius_mm=abs(reach), chord_mm=chord, where=piece.where)
    away = math.copysign(math.sqrt(rest), reach) / chord
    centre = (
        0.5 * (start[0] + end[0]) - away * (end[1] - start[1]),
        0.5 * (start[1] + end[1]) + away * (end[0] - start[0]),
    )
    return Circle(centre, abs(reach), math.copysign(1.0, reach))


def _exact(piece: _Open) -> Piece:
    """Return the exact piece of one that is settled."""
    carrier, start, end = piece.carrier, piece.start, piece.end
    assert start is not None
    assert end is not None
    if isinstance(carrier, Circle):
        return _exact_arc(piece, carrier, start, end)
    assert carrier is not None
    if math.dist(start, end) <= _EMPTY_MM:
        raise refuse.empty(piece.where)
    if not _ahead(carrier, start, end):
        raise refuse.backward(start, end, piece.where)
    if isinstance(carrier, Straight):
        return Line(name=piece.name, start=start, end=end)
    return Polynomial(
        name=piece.name,
        coefficients=carrier.coefficients,
        about_mm=carrier.about_mm,
        from_mm=start[0],
        to_mm=end[0],
    )


def _exact_arc(piece: _Open, circle: Circle, start: Point, end: Point) -> Arc:
    sweep = circle.walked(start, end)
    if min(sweep, TURN - sweep) * circle.radius_mm <= _EMPTY_MM:
        raise refuse.empty(piece.where)
    if sweep > _LONGEST_SWEEP:
        raise refuse.backward(start, end, piece.where)
    return Arc(
        name=piece.name,
        centre=circle.centre,
        radius_mm=circle.radius_mm,
        start_rad=circle.seen(start),
        sweep_rad=circle.turn * sweep,
    )


def _placed(piece: _Open, point: Point | None, key: str) -> Point:
    if point is None:
        raise refuse.not_reached(key, getattr(piece.record, key), piece.where)
    return point
