"""Symmetric rails: the other half of a drawing that gives only the field half."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tapertread.errors import DrawingRefused, Where
from tapertread.shapes.drawing.pieces import Arc, Line, Piece
from tapertread.shapes.outline import Kind

_AT_AXIS_MM = 1e-9


def mirrored_chain(pieces: Sequence[Piece], *, kind: Kind, where: Where) -> tuple[Piece, ...]:
    """Return the whole chain of a rail of which the field half is given.

    A level crown, arc or straight, that begins at the axis becomes one piece across it. The
    gauge-side images carry ``gauge-side`` before their names.

    Raises
    ------
    DrawingRefused
        If a wheel is to be mirrored, or the half does not begin at the axis.
    """
    if kind == "wheel":
        raise DrawingRefused(
            "mirrored-wheel",
            "mirror = true in the drawing of a wheel",
            allowed="mirror = true for rails",
            todo="remove it and give the whole wheel from flange back to rim",
            where=where,
        )
    if abs(pieces[0].start[0]) > _AT_AXIS_MM:
        raise DrawingRefused(
            "half-off-axis",
            f"mirror = true with a half that begins at y = {pieces[0].start[0]:g} mm",
            allowed="the field half, beginning at the axis y = 0",
            todo="begin with the crown at y = 0 and go to the field side",
            where=where,
        )
    across = _across(pieces[0])
    rest = pieces if across is None else pieces[1:]
    image = [replace(piece.mirrored(), name=f"gauge-side {piece.name}") for piece in reversed(rest)]
    return (*image, *([] if across is None else [across]), *rest)


def gauge_side(piece: Piece) -> Piece:
    """Return the image of a field-side piece, with ``gauge-side`` before its name."""
    return replace(piece.mirrored(), name=f"gauge-side {piece.name}")


def _across(crown: Piece) -> Piece | None:
    """Return a crown that goes through the axis level as one piece, else ``None``."""
    if isinstance(crown, Arc) and abs(crown.centre[0]) <= _AT_AXIS_MM:
        return replace(crown, start_rad=crown.mirrored().start_rad, sweep_rad=2.0 * crown.sweep_rad)
    level = np.abs(crown.tangent_rad(np.zeros(1)))[0] <= _AT_AXIS_MM
    if isinstance(crown, Line) and level:
        return replace(crown, start=crown.mirrored().start)
    return None
