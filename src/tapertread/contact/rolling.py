"""Rolling contact of a wheelset on a track: the wrapper around the compiled search."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.contact.records import (
    ContactTable,
    End,
    Floats,
    SideContacts,
    TrackShape,
    WheelsetShape,
)
from tapertread.contact.sections import (
    ANGLE,
    CURVATURE,
    STATION_Y,
    STATION_Z,
    Section,
    Z,
    rail_section,
    wheel_section,
)
from tapertread.errors import ContactRefused

GRID_MM = 0.2
SPAN_MM = 10.0
STEP_MM = 0.25
GAUGING_LINE_MM = 10.0

_REASONS = {
    1: "the wheel no longer stands over the rail",
    2: "no roll lets both wheels touch",
    3: "the wheel climbs: its flange is too steep for the axle to shift further",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side made ready for the kernel: wheel over rail in that side's outward axes."""

    wheel: Section
    rail: Section
    wheel_place_mm: float
    radius_mm: float
    rail_shift_mm: float

    def arrays(self) -> tuple[Floats, ...]:
        """Return what the kernel knows of a side, in its order (see `_kernels.search.balance`)."""
        wheel, rail = self.wheel, self.rail
        heights = wheel.rows[Z]
        nodes = wheel.first_mm + np.arange(heights.size) * wheel.step_mm
        lever = self.wheel_place_mm + nodes + heights * np.gradient(heights, wheel.step_mm)
        scene = np.array(
            [
                self.wheel_place_mm,
                self.radius_mm,
                wheel.first_mm,
                rail.first_mm + self.rail_shift_mm,
                wheel.step_mm,
            ]
        )
        return tuple(
            np.ascontiguousarray(part)
            for part in (
                heights,
                heights[::2],
                lever[::2],
                rail.rows[Z],
                rail.rows[Z, ::2],
                rail.rows[Z, 1::2],
                scene,
            )
        )


def default_shifts_mm(span_mm: float = SPAN_MM, step_mm: float = STEP_MM) -> Floats:
    """Return shifts from -span to +span in equal steps, zero among them (mm)."""
    count = round(span_mm / step_mm)
    return np.arange(-count, count + 1) * step_mm


def contact_table(
    wheelset: WheelsetShape,
    track: TrackShape,
    *,
    shifts_mm: ArrayLike | None = None,
    yaw_rad: float = 0.0,
    grid_mm: float = GRID_MM,
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
    grid_mm : float
        Common lateral grid of wheel and rail.
    second_contacts : bool
        Whether the next separate place of each side is looked for.

    Raises
    ------
    ContactRefused
        If the flanges do not fit between the rails, or a shape cannot stand on the other.
    """
    shifts = default_shifts_mm() if shifts_mm is None else np.asarray(shifts_mm, dtype=np.float64)
    _refuse_bad_shifts(shifts)
    sides = prepare(wheelset, track, yaw_rad=yaw_rad, grid_mm=grid_mm)
    _refuse_tight_gauge(wheelset, track)
    return table_of(wheelset, track, sides, shifts=shifts, yaw_rad=yaw_rad, second=second_contacts)


def prepare(
    wheelset: WheelsetShape, track: TrackShape, *, yaw_rad: float, grid_mm: float
) -> tuple[Side, Side]:
    """Return right and left side made ready for the search, on one grid (mm)."""
    right, left = (
        _side(wheelset, track, right=right, yaw_rad=yaw_rad, grid_mm=grid_mm)
        for right in (True, False)
    )
    return right, left


def _side(
    wheelset: WheelsetShape, track: TrackShape, *, right: bool, yaw_rad: float, grid_mm: float
) -> Side:
    wheel = wheelset.right if right else wheelset.left
    rail = track.right if right else track.left
    radius = wheelset.right_radius_mm if right else wheelset.left_radius_mm
    rail_grid, gauge_point = rail_section(
        rail, inclination=track.inclination, gauge_rule=track.gauge_rule, step_mm=grid_mm
    )
    place = 0.5 * wheelset.back_to_back_mm + wheel.tape_line_mm
    return Side(
        wheel=wheel_section(wheel, radius_mm=radius, yaw_rad=yaw_rad, step_mm=grid_mm),
        rail=rail_grid,
        wheel_place_mm=place * math.cos(yaw_rad),
        radius_mm=radius,
        rail_shift_mm=0.5 * track.gauge_mm - gauge_point,
    )


def _refuse_bad_shifts(shifts: Floats) -> None:
    if shifts.ndim != 1 or shifts.size < 1 or not np.isfinite(shifts).all():
        raise ContactRefused(
            "bad-shifts",
            "shifts that are not one row of finite numbers",
            allowed="rising shifts in mm",
            todo="give at least one shift",
        )
    if (np.diff(shifts) <= 0.0).any():
        raise ContactRefused(
            "bad-shifts",
            "shifts that do not rise",
            allowed="strictly rising shifts in mm",
            todo="sort them and leave repeats out",
        )


def _flange_face_mm(wheel: Section) -> float | None:
    """Return the outward place of the flange face at the gauging line, 10 mm below the tread."""
    y, z = wheel.rows[STATION_Y], wheel.rows[STATION_Z]
    tip = int(np.argmin(z))
    above = np.nonzero(z[tip:] >= -GAUGING_LINE_MM)[0]
    if z[tip] > -GAUGING_LINE_MM or above.size == 0:
        return None
    after = tip + int(above[0])
    share = (-GAUGING_LINE_MM - z[after - 1]) / (z[after] - z[after - 1])
    return float(y[after - 1] + share * (y[after] - y[after - 1]))


def flange_spacing_mm(wheelset: WheelsetShape) -> float | None:
    """Return the distance between the flange faces 10 mm below the treads, mm.

    ``None`` where a wheel has no flange that deep.
    """
    faces = [
        _flange_face_mm(wheel_section(wheel, radius_mm=radius, yaw_rad=0.0, step_mm=GRID_MM))
        for wheel, radius in (
            (wheelset.left, wheelset.left_radius_mm),
            (wheelset.right, wheelset.right_radius_mm),
        )
    ]
    if faces[0] is None or faces[1] is None:
        return None
    return wheelset.tape_circle_distance_mm + faces[0] + faces[1]


def _refuse_tight_gauge(wheelset: WheelsetShape, track: TrackShape) -> None:
    spacing = flange_spacing_mm(wheelset)
    if spacing is not None and spacing >= track.gauge_mm:
        raise ContactRefused(
            "gauge-too-narrow",
            f"an active flange spacing of {spacing:.1f} mm on a gauge of {track.gauge_mm:.1f} mm",
            allowed="a gauge wider than the flanges stand apart",
            todo="check gauge, back-to-back and the units of both",
        )


def table_of(
    wheelset: WheelsetShape,
    track: TrackShape,
    sides: tuple[Side, Side],
    *,
    shifts: Floats,
    yaw_rad: float,
    second: bool,
) -> ContactTable:
    """Return the contact table of sides that are ready."""
    from tapertread.contact._kernels import search as kernels  # compiler: only when needed

    rolls = np.full(shifts.size, np.nan)
    heights = np.full(shifts.size, np.nan)
    nodes = np.full((shifts.size, 2, 4), np.nan)
    statuses = np.zeros(shifts.size, dtype=np.int64)
    middle = int(np.argmin(np.abs(shifts)))
    kernels.search(
        sides[0].arrays(),
        sides[1].arrays(),
        shifts,
        middle,
        second,
        rolls,
        heights,
        nodes,
        statuses,
    )
    if statuses[middle] != kernels.FOUND:
        raise ContactRefused(
            "no-contact",
            f"no contact at {shifts[middle]:g} mm shift: {_REASONS[int(statuses[middle])]}",
            allowed="wheels that stand on both rails near the centre",
            todo="check gauge, back-to-back, sides and units",
        )
    stands = statuses == kernels.FOUND
    left_end, left_note = _end(shifts, statuses, middle=middle, way=-1)
    right_end, right_note = _end(shifts, statuses, middle=middle, way=1)
    nodes[~stands] = np.nan
    return ContactTable(
        wheelset=wheelset,
        track=track,
        shift_mm=shifts,
        roll_rad=np.where(stands, rolls, np.nan),
        axle_height_mm=np.where(stands, heights, np.nan),
        right=_contacts(sides[0], nodes[:, 0], shift=shifts, roll=rolls),
        left=_contacts(sides[1], nodes[:, 1], shift=-shifts, roll=-rolls),
        yaw_rad=yaw_rad,
        left_end=left_end,
        right_end=right_end,
        notes=tuple(note for note in (left_note, right_note) if note),
    )


def _end(shifts: Floats, statuses: NDArray[np.int64], *, middle: int, way: int) -> tuple[End, str]:
    """Return why stable contact ends going one way, as a word and as a sentence."""
    bad = np.nonzero(statuses[middle::way])[0]
    if bad.size == 0:
        return "", ""
    status = int(statuses[middle + way * bad[0]])
    at = shifts[middle + way * bad[0]]
    word: End = "off the rail" if status == 1 else "climbs"
    return word, f"no stable contact from {at:g} mm on: {_REASONS[status]}"


def _contacts(side: Side, nodes: Floats, *, shift: Floats, roll: Floats) -> SideContacts:
    wheel_y, wheel_z, _, wheel_angle, wheel_curvature = (
        _at(side.wheel, nodes[:, 0], row) for row in (STATION_Y, STATION_Z, Z, ANGLE, CURVATURE)
    )
    second_nodes = np.where(nodes[:, 2] >= 0.0, nodes[:, 2], np.nan)
    rail_nodes, second_rail = (
        _rail_nodes(side, at, _at(side.wheel, at, Z), shift=shift, roll=roll)
        for at in (nodes[:, 0], second_nodes)
    )
    rail_y, rail_z, rail_angle, rail_curvature = (
        _at(side.rail, rail_nodes, row) for row in (STATION_Y, STATION_Z, ANGLE, CURVATURE)
    )
    return SideContacts(
        wheel_y_mm=wheel_y,
        wheel_z_mm=wheel_z,
        rail_y_mm=rail_y,
        rail_z_mm=rail_z,
        rolling_radius_mm=side.radius_mm - wheel_z,
        contact_angle_rad=_shared_angle(
            wheel_angle - roll, rail_angle, wheel_curvature, rail_curvature
        ),
        wheel_curvature_per_mm=wheel_curvature,
        rail_curvature_per_mm=rail_curvature,
        second_wheel_y_mm=_at(side.wheel, second_nodes, STATION_Y),
        second_rail_y_mm=_at(side.rail, second_rail, STATION_Y),
        second_gap_mm=np.where(np.isfinite(second_nodes), nodes[:, 3], np.nan),
    )


def _shared_angle(wheel: Floats, rail: Floats, bend_wheel: Floats, bend_rail: Floats) -> Floats:
    """Return the common tangent angle, leaning on the straighter body where the two differ.

    A place error moves the angle of each body by its own curvature, so the weights are the other
    body's curvature [derived].
    """
    weight_wheel, weight_rail = np.abs(bend_rail) + 1e-12, np.abs(bend_wheel) + 1e-12
    shared: Floats = (wheel * weight_wheel + rail * weight_rail) / (weight_wheel + weight_rail)
    return shared


def _rail_nodes(
    side: Side, nodes: Floats, place_z: Floats, *, shift: Floats, roll: Floats
) -> Floats:
    across = side.wheel_place_mm + side.wheel.first_mm + nodes * side.wheel.step_mm
    down = place_z - side.radius_mm
    x = shift + across * np.cos(roll) + down * np.sin(roll)
    at: Floats = (x - side.rail.first_mm - side.rail_shift_mm) / side.rail.step_mm
    return at


def _at(section: Section, nodes: Floats, row: int) -> Floats:
    """Return a row of a section at fractional nodes, by a cubic through four nodes."""
    values = section.rows[row]
    safe = np.where(np.isfinite(nodes), nodes, 1.0)
    k = np.clip(np.floor(safe).astype(np.intp), 1, values.size - 3)
    f = safe - k
    result = (
        -f * (f - 1.0) * (f - 2.0) / 6.0 * values[k - 1]
        + (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0 * values[k]
        - (f + 1.0) * f * (f - 2.0) / 2.0 * values[k + 1]
        + (f + 1.0) * f * (f - 1.0) / 6.0 * values[k + 2]
    )
    found: Floats = np.where(np.isfinite(nodes), result, np.nan)
    return found


def contact_tables(
    wheelset: WheelsetShape, tracks: Sequence[TrackShape], *, shifts_mm: ArrayLike | None = None
) -> list[ContactTable]:
    """Return the tables of one wheelset on several tracks, in order."""
    return [contact_table(wheelset, track, shifts_mm=shifts_mm) for track in tracks]
