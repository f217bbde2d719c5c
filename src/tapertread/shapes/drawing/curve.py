"""A drawing: the exact curve of a wheel or rail, evaluated by arc length.

Walked from the gauge side to the field side. Signs that depend on the metal are the same for
wheels and rails: curvature is positive where the metal is convex, and the distance of a point is
positive outside the metal (a lip, a burr) and negative where metal is gone (wear).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from tapertread.errors import FileRefused, Where
from tapertread.shapes.drawing.checks import check_shape
from tapertread.shapes.drawing.draughting import metal_side, settle
from tapertread.shapes.drawing.files import Places, parse
from tapertread.shapes.drawing.junctions import Junction, check_steps, junctions_of
from tapertread.shapes.drawing.pieces import Piece
from tapertread.shapes.drawing.projecting import Indices, Projection, project_on
from tapertread.shapes.drawing.records import DrawingRecord
from tapertread.shapes.drawing.symmetry import mirrored_chain
from tapertread.shapes.outline import EUROPEAN_TAPE_LINE_MM, Floats, Kind, Origin, Outline

__all__ = ["Anchor", "Drawing", "Mark", "Projection", "drawing_from_text", "read_drawing"]

_LARGEST_TURN_RAD = 0.02
"""Turn between neighbouring points of an outline: a 1 mm edge radius still gets 80 points."""
_CHECK_STEP_MM = 0.5
_ONE_POINT_MM = 1e-3
"""Steps below a micrometre become one point of an outline: ten-digit coefficients, not steel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """A part of a rail that does not wear, apart from the running curve (web, foot).

    Both sides of a symmetric rail carry the same name.

    Attributes
    ----------
    piece : Line, Arc or Polynomial
        Its place, walked with the metal on the same side as on the running curve.
    status, note : str
        How far its figures can be relied upon.
    """

    piece: Piece
    status: str
    note: str

    @property
    def name(self) -> str:
        """Name in the drawing."""
        return self.piece.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A piece whose figures are less sure than the rest of its drawing, or that needs a word."""

    piece: str
    status: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The exact curve of one wheel or rail.

    Attributes
    ----------
    kind : {"wheel", "rail"}
        What it is a section of.
    pieces : tuple of Line, Arc, Polynomial
        From gauge side to field side.
    origin : Origin
        Name, status, sources and note.
    tape_line_mm : float
        For wheels: distance from flange back to tape line, mm.
    anchors : tuple of Anchor
        Parts for alignment, not of the running curve.
    marks : tuple of Mark
        Pieces with a status or note of their own.
    junctions : tuple of Junction
        Steps and kinks where pieces meet, in order.
    """

    kind: Kind
    pieces: tuple[Piece, ...]
    origin: Origin = field(default_factory=lambda: Origin(name="unnamed", status="own drawing"))
    tape_line_mm: float = EUROPEAN_TAPE_LINE_MM
    anchors: tuple[Anchor, ...] = ()
    marks: tuple[Mark, ...] = ()
    junctions: tuple[Junction, ...] = field(init=False, compare=False)
    _starts: Floats = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay the pieces end to end."""
        lengths = [piece.length_mm for piece in self.pieces]
        object.__setattr__(self, "junctions", junctions_of(self.pieces))
        object.__setattr__(self, "_starts", np.concatenate(([0.0], np.cumsum(lengths))))

    @property
    def name(self) -> str:
        """Name of the drawing."""
        return self.origin.name

    @property
    def length_mm(self) -> float:
        """Length of the running curve, mm."""
        return float(self._starts[-1])

    @property
    def convex_turn(self) -> float:
        """+1 if a convex piece turns from y toward z (wheels), -1 otherwise (rails)."""
        return metal_side(self.kind)

    def piece(self, name: str) -> Piece:
        """Return a piece by its name.

        Raises
        ------
        KeyError
            If no piece has this name.
        """
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)

    def arc_range(self, name: str) -> tuple[float, float]:
        """Return where a piece begins and ends by arc length (mm).

        Raises
        ------
        KeyError
            If no piece has this name.
        """
        index = self.pieces.index(self.piece(name))
        return float(self._starts[index]), float(self._starts[index + 1])

    def _shares(self, arc_mm: Floats) -> list[tuple[Piece, Indices, Floats]]:
        """Return, per piece, which arc lengths fall on it and how far from its start."""
        index = np.searchsorted(self._starts, arc_mm, side="right") - 1
        index = np.clip(index, 0, len(self.pieces) - 1)
        shares = []
        for number in np.unique(index):
            mine = np.nonzero(index == number)[0]
            shares.append((self.pieces[number], mine, arc_mm[mine] - self._starts[number]))
        return shares

    def point(self, arc_mm: ArrayLike) -> tuple[Floats, Floats]:
        """Return y and z (mm) at arc lengths (mm), each of shape (n,).

        Raises
        ------
        ValueError
            If an arc length lies beyond the drawing.
        """
        arc = self._checked(arc_mm)
        y, z = np.empty(arc.shape), np.empty(arc.shape)
        for piece, mine, along in self._shares(arc):
            y[mine], z[mine] = piece.point(along)
        return y, z

    def tangent_rad(self, arc_mm: ArrayLike) -> Floats:
        """Return the angle of the walk from y toward z (rad, -pi..pi) at arc lengths (mm).

        At a junction the piece after it counts.

        Raises
        ------
        ValueError
            If an arc length lies beyond the drawing.
        """
        arc = self._checked(arc_mm)
        angle = np.empty(arc.shape)
        for piece, mine, along in self._shares(arc):
            angle[mine] = piece.tangent_rad(along)
        return angle

    def curvature_per_mm(self, arc_mm: ArrayLike) -> Floats:
        """Return the curvature (1/mm, > 0 where the metal is convex) at arc lengths (mm).

        Raises
        ------
        ValueError
            If an arc length lies beyond the drawing.
        """
        arc = self._checked(arc_mm)
        curvature = np.empty(arc.shape)
        for piece, mine, along in self._shares(arc):
            curvature[mine] = self.convex_turn * piece.curvature_per_mm(along)
        return curvature

    def _checked(self, arc_mm: ArrayLike) -> Floats:
        arc = np.atleast_1d(np.asarray(arc_mm, dtype=np.float64))
        slack = 1e-9 * max(1.0, self.length_mm)
        if not ((arc >= -slack) & (arc <= self.length_mm + slack)).all():
            raise ValueError(f"arc lengths beyond the drawing, which is {self.length_mm} mm long")
        return np.clip(arc, 0.0, self.length_mm)

    def z_at(self, y_mm: ArrayLike) -> Floats:
        """Return z (mm) at places y (mm) on the running part, shape (n,).

        Where several pieces pass a place, the outermost counts: the lowest of a wheel, the highest
        of a rail. NaN where no piece that is walked outward passes.
        """
        y = np.atleast_1d(np.asarray(y_mm, dtype=np.float64))
        z = np.full(y.shape, np.nan)
        outermost = np.fmin if self.kind == "wheel" else np.fmax
        for piece in self.pieces:
            z = outermost(z, piece.z_at(y))
        return z

    def project(self, y_mm: ArrayLike, z_mm: ArrayLike) -> Projection:
        """Return the nearest places of the running curve to points (mm, shape (n,)).

        Exact for straight pieces and arcs, by Newton steps for polynomials.
        """
        return project_on(self.pieces, y_mm, z_mm, convex_turn=self.convex_turn)

    def project_on_anchors(self, y_mm: ArrayLike, z_mm: ArrayLike) -> Projection:
        """Return the nearest places of the anchors to points (mm), as if laid end to end.

        Raises
        ------
        ValueError
            If the drawing has no anchor.
        """
        pieces = [anchor.piece for anchor in self.anchors]
        if not pieces:
            raise ValueError(f"{self.name} has no anchor")
        return project_on(pieces, y_mm, z_mm, convex_turn=self.convex_turn)

    def arcs_for(self, step_mm: float) -> Floats:
        """Return arc lengths at most `step_mm` apart, on each junction and closer on small arcs."""
        if not step_mm > 0.0:
            raise ValueError(f"a step of {step_mm} mm")
        fewest = 1 + 2 // len(self.pieces)  # an outline has at least four points
        arcs = [np.zeros(1)]
        for piece, start in zip(self.pieces, self._starts[:-1], strict=True):
            bend = np.abs(piece.curvature_per_mm(np.linspace(0.0, piece.length_mm, 9))).max()
            step = min(step_mm, _LARGEST_TURN_RAD / bend) if bend > 0.0 else step_mm
            count = max(fewest, int(np.ceil(piece.length_mm / step - 1e-9)))
            arcs.append(start + piece.length_mm * np.arange(1, count + 1) / count)
        return np.concatenate(arcs)

    def outline(self, step_mm: float = 0.1) -> Outline:
        """Return points at most `step_mm` apart, exactly on every junction; steps get both ends."""
        arcs = self.arcs_for(step_mm)
        y, z = self.point(arcs)
        for junction, piece in zip(self.junctions, self.pieces[:-1], strict=True):
            if junction.step_mm > _ONE_POINT_MM:
                place = int(np.searchsorted(arcs, junction.arc_mm, side="left"))
                y, z = np.insert(y, place, piece.end[0]), np.insert(z, place, piece.end[1])
                arcs = np.insert(arcs, place, junction.arc_mm)
        return Outline(
            kind=self.kind, y_mm=y, z_mm=z, origin=self.origin, tape_line_mm=self.tape_line_mm
        )

    def scaled(self, factor: float) -> Drawing:
        """Return the drawing enlarged about its origin, anchors included (for models).

        Raises
        ------
        ValueError
            If the factor is not positive.
        """
        if not factor > 0.0:
            raise ValueError(f"a scale of {factor}")
        return replace(
            self,
            pieces=tuple(piece.scaled(factor) for piece in self.pieces),
            anchors=tuple(replace(a, piece=a.piece.scaled(factor)) for a in self.anchors),
            tape_line_mm=self.tape_line_mm * factor,
        )


def read_drawing(path: str | Path) -> Drawing:
    """Read a drawing file.

    Raises
    ------
    FileRefused
        If the file cannot be read or is not text.
    DrawingRefused
        If it does not describe one continuous wheel or rail.
    """
    file = Path(path)
    try:
        text = file.read_text(encoding="utf-8")
    except OSError as error:
        raise _unreadable(file, error.strerror or "an unreadable file") from None
    except UnicodeDecodeError:
        raise _unreadable(file, "a file that is not text in UTF-8") from None
    return drawing_from_text(text, file=str(file))


def drawing_from_text(text: str, *, file: str | None = None) -> Drawing:
    """Return the drawing that the text of a drawing file describes.

    Raises
    ------
    DrawingRefused
        If it does not describe one continuous wheel or rail.
    """
    record, places = parse(text, file=file)
    drawing = Drawing(
        kind=record.kind,
        pieces=_pieces(record, places),
        origin=Origin(
            name=record.name, status=record.status, sources=record.sources, note=record.note
        ),
        tape_line_mm=record.tape_line,
        anchors=_anchors(record, places),
        marks=tuple(
            Mark(piece=piece.name, status=piece.status, note=piece.note)
            for piece in record.piece
            if piece.status or piece.note
        ),
    )
    z_axis_mm = float(drawing.z_at(0.0)[0])
    check_shape(drawing.outline(_CHECK_STEP_MM), z_axis_mm=z_axis_mm, where=Where(file=file))
    return drawing


def _pieces(record: DrawingRecord, places: Places) -> tuple[Piece, ...]:
    def where(index: int) -> Where:
        return places.of(index, name=record.piece[index].name)

    pieces = settle(record.piece, kind=record.kind, where=where, tolerance_mm=record.tolerance_mm)
    if not record.allow_step:
        check_steps(junctions_of(pieces), tolerance_mm=record.tolerance_mm, where=where)
    if not record.mirror:
        return pieces
    return mirrored_chain(pieces, kind=record.kind, where=where(0))


def _anchors(record: DrawingRecord, places: Places) -> tuple[Anchor, ...]:
    anchors = []
    for index, entry in enumerate(record.anchor):
        where = places.of(index, name=entry.name, table="anchor")
        (piece,) = settle(
            [entry], kind=record.kind, where=partial(_same, where), tolerance_mm=record.tolerance_mm
        )
        anchors.append(Anchor(piece=piece, status=entry.status, note=entry.note))
    if record.mirror:
        anchors += [replace(anchor, piece=anchor.piece.mirrored()) for anchor in anchors]
    return tuple(anchors)


def _same(where: Where, _: int) -> Where:
    return where


def _unreadable(file: Path, found: str) -> FileRefused:
    return FileRefused(
        "unreadable-file",
        found[:1].lower() + found[1:],
        allowed="a drawing file in TOML",
        todo="check the path; docs/drawing.md shows a whole example",
        where=Where(file=str(file)),
    )
