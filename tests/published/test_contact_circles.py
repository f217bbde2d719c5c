"""Circles and cones on round rails against the exact form with roll.

Source of the table: Wickens' conicity of a circular-arc wheel on a circular-arc rail
[wickens-2003], recalled; in its form with sines it was confirmed to eight digits by exact rigid
geometry computed apart from this project (that is the column of conicities below). Lengths in the
table are m, as there; our shapes are mm.

    conicity = Rw sin(d) (l + Rr sin(d)) / ((Rw - Rr) (l cos(d) - r0 sin(d)))
    roll per shift = sin(d) / (l cos(d) - r0 sin(d))
    half the contact angle difference per shift
        = (l + Rw sin(d)) / ((Rw - Rr) (l cos(d) - r0 sin(d)))

Left out: the row of a rail of 1e-9 m radius, a knife edge that no outline can draw.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from tapertread.contact import ContactTable, TrackShape, WheelsetShape, contact_table
from tapertread.shapes.outline import Outline

CONE = math.inf
TOLERANCE = 1e-5
"""Printed digits give 1e-8; the search's grid and the sampled outline the rest."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of the table, in m and rad."""

    wheel_m: float
    rail_m: float
    angle: float
    half_spacing_m: float
    radius_m: float
    conicity: float
    roll_per_m: float
    angle_rate_per_m: float


ROWS = tuple(
    Row(
        wheel_m=row[0],
        rail_m=row[1],
        angle=row[2],
        half_spacing_m=0.75,
        radius_m=row[3],
        conicity=row[4],
        roll_per_m=row[5],
        angle_rate_per_m=row[6],
    )
    for row in (
        (0.33, 0.3, 0.05, 0.46, 0.57924161, 0.068834978, 35.189019),
        (0.5, 0.3, 0.025, 0.46, 0.06412149, 0.033859568, 5.1641132),
        (1.0, 0.3, 0.025, 0.46, 0.036640852, 0.033859568, 1.4996463),
        (0.4, 0.08, 0.1, 0.45, 0.13487339, 0.14234909, 3.5198102),
        (0.45, 0.3, 0.05, 0.46, 0.15797498, 0.068834978, 7.0928717),
        (CONE, 0.3, 0.025, 0.46, 0.025648596, 0.033859568, 0.033859569),
        (CONE, 0.3, 0.05, 0.46, 0.052658328, 0.068834978, 0.068834979),
    )
)


def _wheel(row: Row) -> Outline:
    y = np.arange(-40.0, 40.05, 0.1)
    if row.wheel_m == CONE:
        return Outline(kind="wheel", y_mm=y, z_mm=y * math.tan(row.angle))
    radius = 1000.0 * row.wheel_m
    across = y - radius * math.sin(row.angle)
    z = np.sqrt(radius**2 - across**2) - radius * math.cos(row.angle)
    return Outline(kind="wheel", y_mm=y, z_mm=z)


def _pairing(row: Row) -> tuple[WheelsetShape, TrackShape]:
    """Return wheels that touch at their tape lines when centred, and the rails under them."""
    radius, half_spacing = 1000.0 * row.rail_m, 1000.0 * row.half_spacing_m
    end = math.acos(1.0 - 16.0 / radius)
    turn = np.linspace(-end, end, int(20.0 * end * radius))
    rail = Outline(kind="rail", y_mm=radius * np.sin(turn), z_mm=radius * (np.cos(turn) - 1.0))
    gauge_point = -math.sqrt(radius**2 - (radius - 14.0) ** 2)
    gauge = 2.0 * (half_spacing + radius * math.sin(row.angle) + gauge_point)
    wheel = _wheel(row)
    wheelset = WheelsetShape(
        left=wheel,
        right=wheel,
        left_radius_mm=1000.0 * row.radius_m,
        right_radius_mm=1000.0 * row.radius_m,
        back_to_back_mm=2.0 * half_spacing - 2.0 * wheel.tape_line_mm,
    )
    return wheelset, TrackShape(left=rail, right=rail, gauge_mm=gauge, inclination=0.0)


def _rate(values: np.ndarray, shift: float) -> float:
    """Return the slope at zero of an odd curve known at ±shift/2 and ±shift, to fourth order."""
    near = (values[3] - values[1]) / shift
    far = (values[4] - values[0]) / (2.0 * shift)
    return float((4.0 * near - far) / 3.0)


@pytest.fixture(scope="module", params=ROWS, ids=lambda r: f"Rw {r.wheel_m} Rr {r.rail_m}")
def solved(request: pytest.FixtureRequest) -> tuple[Row, ContactTable]:
    wheelset, track = _pairing(request.param)
    return request.param, contact_table(wheelset, track, shifts_mm=[-0.5, -0.25, 0.0, 0.25, 0.5])


def test_conicity(solved: tuple[Row, ContactTable]) -> None:
    row, table = solved
    conicity = 0.5 * _rate(table.rolling_radius_difference_mm, 0.5)
    assert conicity == pytest.approx(row.conicity, rel=TOLERANCE)


def test_roll_rate(solved: tuple[Row, ContactTable]) -> None:
    row, table = solved
    assert -1000.0 * _rate(table.roll_rad, 0.5) == pytest.approx(row.roll_per_m, rel=TOLERANCE)


def test_contact_angle_rate(solved: tuple[Row, ContactTable]) -> None:
    row, table = solved
    half = 0.5 * (table.right.contact_angle_rad - table.left.contact_angle_rad)
    assert 1000.0 * _rate(half, 0.5) == pytest.approx(row.angle_rate_per_m, rel=TOLERANCE)


def test_the_centred_contact_is_where_the_circles_were_put(
    solved: tuple[Row, ContactTable],
) -> None:
    row, table = solved
    assert table.right.wheel_y_mm[2] == pytest.approx(0.0, abs=1e-4)
    assert table.right.rail_y_mm[2] == pytest.approx(
        -1000.0 * row.rail_m * math.sin(row.angle), abs=1e-4
    )
    assert table.right.contact_angle_rad[2] == pytest.approx(row.angle, abs=1e-6)


def test_curvatures_are_those_of_the_circles(solved: tuple[Row, ContactTable]) -> None:
    row, table = solved
    hollow = 0.0 if row.wheel_m == CONE else -1.0 / (1000.0 * row.wheel_m)
    assert table.right.wheel_curvature_per_mm[2] == pytest.approx(hollow, abs=1e-6)
    assert table.right.rail_curvature_per_mm[2] == pytest.approx(
        1.0 / (1000.0 * row.rail_m), rel=1e-3
    )


@pytest.mark.parametrize(
    ("taper", "conicity"),
    # Cone with roll solved on a 300 mm crown: exact form above, with tan(d) = taper.
    [(1.0 / 40.0, 0.02564), (1.0 / 20.0, 0.05261)],
)
def test_cone_on_a_crown_of_300_mm(taper: float, conicity: float) -> None:
    row = Row(
        wheel_m=CONE,
        rail_m=0.3,
        angle=math.atan(taper),
        half_spacing_m=0.75,
        radius_m=0.46,
        conicity=conicity,
        roll_per_m=0.0,
        angle_rate_per_m=0.0,
    )
    wheelset, track = _pairing(row)
    table = contact_table(wheelset, track, shifts_mm=[-0.5, -0.25, 0.0, 0.25, 0.5])
    assert 0.5 * _rate(table.rolling_radius_difference_mm, 0.5) == pytest.approx(
        conicity,
        abs=6e-6,  # printed to five decimals
    )
