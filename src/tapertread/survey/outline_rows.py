"""Outlines as rows of the store: what makes one the same as another, its bytes, and back again."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import msgspec
import numpy as np

from tapertread.shapes.outline import Floats, Frame, Origin, Outline
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.survey import schema

FrameOf = Callable[[str, str], Frame]
"""Section and campaign → the frame that the section states there."""

STORED = np.dtype("<f8")
SECTION_SAYS = ""
"""Frame of rail outlines whose recipe does not state one: the one that their section states."""


def place_of(raw: RawOutline) -> str:
    """Return what makes two outlines measurements of the same thing at the same moment."""
    return "|".join((raw.kind, raw.asset, str(raw.side), raw.time or f"({raw.campaign})"))


def content_of(raw: RawOutline, yz: bytes, *, frame: str) -> bytes:
    """Return the hash of an outline: its points, and how they are to be taken."""
    facts = (
        frame,
        raw.outline.tape_line_mm,
        raw.stylus_radius_mm,
        raw.repeatability_mm,
        raw.device,
    )
    return hashlib.sha256(msgspec.json.encode(facts) + yz).digest()


def points_as_bytes(outline: Outline) -> bytes:
    """Return all y, then all z (mm) as float64, little end first."""
    return np.concatenate((outline.y_mm, outline.z_mm)).astype(STORED, copy=False).tobytes()


def points_from_bytes(yz: bytes) -> tuple[Floats, Floats]:
    """Return y and z (mm) from their bytes."""
    points = np.frombuffer(yz, dtype=STORED).astype(np.float64, copy=False)
    half = points.size // 2
    return points[:half], points[half:]


def raw_outlines(rows: Iterable[Any], *, frames: FrameOf) -> Iterator[RawOutline]:
    """Yield the outlines of rows that carry the columns of `OUTLINE_COLUMNS`.

    Parameters
    ----------
    rows : iterable
        Rows of the store.
    frames : callable
        Tells the frame that a section states in a campaign.
    """
    for row in rows:
        y, z = points_from_bytes(row.yz)
        name = " ".join(part for part in (row.asset, row.side, row.campaign, row.time) if part)
        yield RawOutline(
            outline=Outline(
                kind=row.kind,
                y_mm=y,
                z_mm=z,
                origin=Origin(name=name),
                frame=row.frame or frames(row.asset, row.campaign),
                tape_line_mm=row.tape_line_mm,
            ),
            asset=row.asset,
            side=row.side,
            campaign=row.campaign,
            time=row.time,
            stylus_radius_mm=row.stylus_radius_mm,
            device=row.device,
            repeatability_mm=row.repeatability_mm,
            file=row.file,
            first_line=row.first_line,
            last_line=row.last_line,
            recipe_name=row.recipe_name,
        )


OUTLINE_COLUMNS = (
    *(column for column in schema.outline.c if column.name not in ("place", "content")),
    schema.imports.c.file,
    schema.outline_points.c.yz,
)
"""What `raw_outlines` needs."""
