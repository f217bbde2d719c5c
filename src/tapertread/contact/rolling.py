"""Rolling contact of a wheelset on a track: the wrapper around the compiled search."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.contact.places import contacts_of
from tapertread.contact.records import ContactTable, End, Floats, TrackShape, WheelsetShape
from tapertread.contact.refusals import refuse_bad_shifts, refuse_bad_sizes, refuse_tight_gauge
from tapertread.contact.sides import Side, fitting_grid_mm, prepare
from tapertread.errors import ContactRefused

SPAN_MM = 10.0
STEP_MM = 0.25

_REASONS = {
    1: "the wheel no longer stands over the rail",
    2: "no roll lets both wheels touch",
    3: "the wheel climbs: its flange is too steep for the axle to shift further",
}


def default_shifts_mm(span_mm: float = SPAN_MM, step_mm: float = STEP_MM) -> Floats:
    """Return shifts from -span to +span in equal steps, zero among them (mm)."""
    count = round(span_mm / step_mm)
    return np.arange(-count, count + 1, dtype=np.float64) * step_mm


def contact_table(
    wheelset: WheelsetShape,
    track: TrackShape,
    *,
    shifts_mm: ArrayLike | None = None,
    yaw_rad: float = 0.0,
    grid_mm: float | None = None,
    second_contacts: bool = True,
) -> ContactTable:
    """Return where a wheelset touches a track at every shift, both wheels on their rails.

    Bodies are rigid; the roll is solved so that the smallest gaps of both sides are equal.

    Parameters
    ----------
    wheelset, track : WheelsetShape, TrackShape
        What is put together.
    shifts_mm : array_like, shape (shifts,), optional
        Rising shifts of the axle centre, > 0 to the right; ±10 mm by 0.25 mm if left out.
    yaw_rad : float
        Yaw, > 0 nose right, by the contact-locus construction.
    grid_mm : float, optional
        Common lateral grid of wheel and rail; 0.2 mm if left out, finer for models.
    second_contacts : bool
        Whether the next separate place of each side is looked for.

    Raises
    ------
    ContactRefused
        If the flanges do not fit between the rails, or a shape cannot stand on the other.
    """
    shifts = default_shifts_mm() if shifts_mm is None else np.asarray(shifts_mm, dtype=np.float64)
    refuse_bad_shifts(shifts)
    grid = fitting_grid_mm(wheelset) if grid_mm is None else grid_mm
    refuse_bad_sizes(wheelset, track, yaw_rad=yaw_rad, grid_mm=grid)
    sides = prepare(wheelset, track, yaw_rad=yaw_rad, grid_mm=grid)
    refuse_tight_gauge(wheelset, track)
    return table_of(wheelset, track, sides, shifts=shifts, yaw_rad=yaw_rad, second=second_contacts)


def table_of(
    wheelset: WheelsetShape,
    track: TrackShape,
    sides: tuple[Side, Side],
    *,
    shifts: Floats,
    yaw_rad: float,
    second: bool,
) -> ContactTable:
    """Return the contact table of sides that are ready.

    Raises
    ------
    ContactRefused
        If the wheelset does not stand on both rails near the centre.
    """
    found = search_sides(sides, shifts, second=second)
    stands = found.statuses == 0
    left_end, left_note = _end(found, shifts, way=-1)
    right_end, right_note = _end(found, shifts, way=1)
    return ContactTable(
        wheelset=wheelset,
        track=track,
        shift_mm=shifts,
        roll_rad=np.where(stands, found.rolls, np.nan),
        axle_height_mm=np.where(stands, found.heights, np.nan),
        right=contacts_of(sides[0], found.nodes[:, 0], shift=shifts, roll=found.rolls),
        left=contacts_of(sides[1], found.nodes[:, 1], shift=-shifts, roll=-found.rolls),
        yaw_rad=yaw_rad,
        grid_mm=sides[0].wheel.step_mm,
        left_end=left_end,
        right_end=right_end,
        notes=tuple(note for note in (left_note, right_note) if note),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the search found at each shift: roll, height, nodes (shifts, 2, 4) and status."""

    rolls: Floats
    heights: Floats
    nodes: Floats
    statuses: NDArray[np.int64]


def search_sides(sides: tuple[Side, Side], shifts: Floats, *, second: bool) -> Found:
    """Walk outward from the centre in steps that cannot leap over a fold."""
    from tapertread.contact._kernels import (  # noqa: PLC0415  the compiler is slow to load
        search as kernels,
    )

    path, asked = _path(shifts)
    found = Found(
        rolls=np.zeros(path.size),
        heights=np.zeros(path.size),
        nodes=np.full((path.size, 2, 4), -1.0),
        statuses=np.zeros(path.size, dtype=np.int64),
    )
    middle = int(np.argmin(np.abs(path)))
    kernels.search(
        sides[0].arrays,
        sides[1].arrays,
        path,
        middle,
        second,
        found.rolls,
        found.heights,
        found.nodes,
        found.statuses,
    )
    status = int(found.statuses[middle])
    if status != kernels.FOUND:
        raise ContactRefused(
            "no-contact",
            f"no contact at {path[middle]:g} mm shift: {_REASONS[status]}",
            allowed="wheels that stand on both rails near the centre",
            todo="check gauge, back-to-back, sides and units",
        )
    found.nodes[found.statuses != kernels.FOUND] = -1.0
    if not second:
        found.nodes[:, :, kernels.SECOND_NODE] = -1.0
    return found if asked is None else _only(found, asked)


def _path(shifts: Floats) -> tuple[Floats, NDArray[np.intp] | None]:
    """Return shifts joined to the centre in steps of `STEP_MM` or less, and where the asked are.

    ``None`` where nothing had to be added.
    """
    far = np.abs(shifts).min() > STEP_MM
    if not far and np.diff(shifts).max(initial=0.0) <= STEP_MM * (1.0 + 1e-9):
        return shifts, None
    corners = np.unique(np.append(shifts, 0.0)) if far else shifts
    counts = np.ceil(np.diff(corners) / STEP_MM - 1e-9).astype(np.intp)
    pieces = [
        low + (high - low) * np.arange(count) / count
        for low, high, count in zip(corners[:-1], corners[1:], np.maximum(counts, 1), strict=True)
    ]
    path = np.concatenate((*pieces, corners[-1:]))
    return path, np.searchsorted(path, shifts)


def _only(found: Found, asked: NDArray[np.intp]) -> Found:
    return Found(
        rolls=found.rolls[asked],
        heights=found.heights[asked],
        nodes=found.nodes[asked],
        statuses=found.statuses[asked],
    )


def _end(found: Found, shifts: Floats, *, way: int) -> tuple[End, str]:
    """Return why stable contact ends going one way, as a word and as a sentence."""
    bad = np.nonzero((found.statuses != 0) & (way * shifts > 0.0))[0][::way]
    if bad.size == 0:
        return "", ""
    status = int(found.statuses[bad[0]])
    word: End = "off the rail" if status == 1 else "climbs"
    return word, f"no stable contact from {shifts[bad[0]]:g} mm on: {_REASONS[status]}"


def contact_tables(
    wheelset: WheelsetShape, tracks: Sequence[TrackShape], *, shifts_mm: ArrayLike | None = None
) -> list[ContactTable]:
    """Return the tables of one wheelset on several tracks, in order."""
    return [contact_table(wheelset, track, shifts_mm=shifts_mm) for track in tracks]
