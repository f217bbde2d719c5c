"""The compiled search against plain NumPy, against a root finder, and along a fold.

Three ways to the same answer: `contact.plain` (whole arrays), a fine grid with scipy's root finder
written here without the package's grids, and the shift as a function of the roll, whose turning
point is the fold.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from tapertread.contact import TrackShape, WheelsetShape, contact_table, plain
from tapertread.contact.sides import Side, prepare
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline

ROLL_TOLERANCE_RAD = 1e-9
HALFWAY_HEIGHT_MM, HALFWAY_ROLL_RAD = 2e-4, 2e-7
"""Halfway between two nodes, where curvature jumps, the parabola about either may be taken; about
one shift in ten thousand lies there."""

PLACE_TOLERANCE_MM = 1e-4
"""Places follow the roll by its lever over the difference of the curvatures, most on corners."""


@st.composite
def worn_pairings(draw: st.DrawFn, shapes: Any) -> tuple[WheelsetShape, TrackShape]:
    """Return unequal wheels on unequal rails, all worn."""
    name = st.sampled_from(["S1002", "cone-1-40", "hollow-worn", "gentle"])
    rail = st.sampled_from(["60E1", "54E1"])
    seed = st.integers(0, 10_000)
    wear = st.floats(0.0, 0.3)

    def worn(which: str) -> Outline:
        return shapes.worn(design(which), seed=draw(seed), wear_mm=draw(wear))

    wheelset = WheelsetShape(
        left=worn(draw(name)),
        right=worn(draw(name)),
        left_radius_mm=460.0,
        right_radius_mm=460.0 + draw(st.floats(-1.0, 1.0)),
        back_to_back_mm=1360.0,
    )
    gauge = draw(st.floats(1436.0, 1450.0))
    return wheelset, TrackShape(left=worn(draw(rail)), right=worn(draw(rail)), gauge_mm=gauge)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_compiled_search_agrees_with_plain_numpy(data: st.DataObject, shapes: Any) -> None:
    wheelset, track = data.draw(worn_pairings(shapes))
    random = np.random.default_rng(data.draw(st.integers(0, 10_000)))
    shifts = np.sort(random.uniform(-4.5, 4.5, 21))
    table = contact_table(wheelset, track, shifts_mm=shifts)
    right, left = prepare(wheelset, track, yaw_rad=0.0, grid_mm=0.2)
    oracle = plain.search(right, left, shifts_mm=shifts)
    settled = np.isfinite(oracle.roll_rad)  # without a bracket Newton may swing at a leap
    assert np.isfinite(table.roll_rad).all()
    assert np.count_nonzero(~settled) <= 1
    apart_rad = np.abs(table.roll_rad - oracle.roll_rad)[settled]
    assert np.count_nonzero(apart_rad > ROLL_TOLERANCE_RAD) <= 1
    assert apart_rad.max() < HALFWAY_ROLL_RAD
    np.testing.assert_allclose(
        table.axle_height_mm[settled], -oracle.gap_mm[settled], rtol=0.0, atol=HALFWAY_HEIGHT_MM
    )
    for side, found, node in (
        (right, table.right, oracle.right_node),
        (left, table.left, oracle.left_node),
    ):
        places = side.wheel.first_mm + node * side.wheel.step_mm
        ties = found.second_gap_mm < 1e-6  # two places bear together: either may be named first
        apart = np.abs(found.wheel_y_mm - places) > PLACE_TOLERANCE_MM
        assert np.count_nonzero(apart & ~ties) <= 1  # halfway between two nodes, as above


class Bodies:
    """Wheels and rails as splines, lowered onto one another without the package's grids."""

    def __init__(self, wheelset: WheelsetShape, track: TrackShape) -> None:
        self.wheelset, self.track = wheelset, track
        self.rails = [self._rail(track.left), self._rail(track.right)]
        self.wheels = [self._wheel(wheelset.left), self._wheel(wheelset.right)]

    def _wheel(self, outline: Outline) -> tuple[np.ndarray, np.ndarray]:
        tip = int(np.argmin(outline.z_mm))
        arc = outline.arc_mm[tip:]
        fine = np.linspace(arc[0], arc[-1], 30_001)
        return (
            CubicSpline(arc, outline.y_mm[tip:])(fine),
            CubicSpline(arc, outline.z_mm[tip:])(fine),
        )

    def _rail(self, outline: Outline) -> tuple[np.ndarray, np.ndarray]:
        lean = np.arctan(self.track.inclination)
        y = outline.y_mm * np.cos(lean) - outline.z_mm * np.sin(lean)
        z = outline.y_mm * np.sin(lean) + outline.z_mm * np.cos(lean)
        arc = outline.arc_mm
        fine = np.linspace(0.0, arc[-1], 30_001)
        y, z = CubicSpline(arc, y)(fine), CubicSpline(arc, z)(fine)
        z -= z.max()
        place = 0.5 * self.track.gauge_mm - y[z >= -14.0].min()
        over = z > -25.0
        return y[over] + place, z[over]

    def gap(self, side: int, shift: float, roll: float) -> float:
        """Return the smallest height of a side's wheel over its rail, axle centre at zero."""
        sign = 1.0 if side else -1.0
        radius = self.wheelset.right_radius_mm if side else self.wheelset.left_radius_mm
        y, z = self.wheels[side]
        across = 0.5 * self.wheelset.back_to_back_mm + 70.0 + y
        down = z - radius
        x = sign * shift + across * np.cos(roll) + down * np.sin(sign * roll)
        height = down * np.cos(roll) - across * np.sin(sign * roll)
        rail = np.interp(x, *self.rails[side], left=-np.inf, right=-np.inf)
        return float((height - rail).min())

    def roll(self, shift: float, near: float) -> float:
        """Return the roll at which both smallest gaps are equal."""
        return float(
            brentq(
                lambda roll: self.gap(1, shift, roll) - self.gap(0, shift, roll),
                near - 5e-4,
                near + 5e-4,
                xtol=1e-12,
            )
        )


@pytest.mark.parametrize(
    ("wheels", "rails", "larger_mm"),
    [
        (("S1002", "S1002"), ("60E1", "60E1"), 0.0),
        (("hollow-worn", "S1002"), ("54E1", "60E1"), 0.4),
        (("gentle", "cone-1-40"), ("60E1", "54E1"), -0.6),
    ],
)
def test_compiled_search_agrees_with_splines_and_a_root_finder(
    shapes: Any, wheels: tuple[str, str], rails: tuple[str, str], larger_mm: float
) -> None:
    worn = [shapes.worn(design(n), seed=i, wear_mm=0.1) for i, n in enumerate((*wheels, *rails))]
    wheelset = WheelsetShape(
        left=worn[0],
        right=worn[1],
        left_radius_mm=460.0,
        right_radius_mm=460.0 + larger_mm,
        back_to_back_mm=1360.0,
    )
    track = TrackShape(left=worn[2], right=worn[3], gauge_mm=1437.0)
    bodies = Bodies(wheelset, track)
    shifts = np.array([-5.5, -2.0, 0.3, 3.7, 6.0])
    table = contact_table(wheelset, track, shifts_mm=shifts)
    for shift, roll in zip(shifts.tolist(), table.roll_rad.tolist(), strict=True):
        # The outline's 0.1 mm polyline carries no more than a few tenths of a micrometre.
        assert bodies.roll(shift, roll) == pytest.approx(roll, abs=5e-7)


@pytest.mark.parametrize(
    ("wheel", "gauge_mm", "folds"),
    [("freight-1-20", 1440.0, True), ("S1002", 1431.0, False), ("cylinder", 1431.0, False)],
)
def test_the_axle_stops_where_the_shift_turns_back_over_the_roll(
    wheel: str, gauge_mm: float, folds: bool, shapes: Any
) -> None:
    """Seen from the roll there is one shift; where it turns back, no axle shifts further."""
    wheelset = shapes.wheelset(wheel)
    track = shapes.track("54E1", gauge_mm=gauge_mm)
    right, left = prepare(wheelset, track, yaw_rad=0.0, grid_mm=0.2)
    rolls = -np.linspace(0.3e-3, 16e-3, 150)
    shift = _shift_over_roll(right, left, rolls)
    back = np.nonzero(np.diff(shift) < -1e-6)[0]
    table = contact_table(wheelset, track, shifts_mm=np.arange(0.0, 15.01, 0.125))
    stands = np.isfinite(table.roll_rad)
    last = table.shift_mm[stands][-1]
    assert bool(back.size) is folds
    if folds:
        assert table.right_end == "climbs"
        assert shift[back[0]] - 0.126 <= last <= shift[back[0]]
        shift, rolls = shift[: back[0] + 1], rolls[: back[0] + 1]
    else:
        assert table.notes == ()
        assert stands.all()
    inside = stands & (table.shift_mm > shift[0]) & (table.shift_mm < shift[-1])
    assert inside.sum() > 30
    seen = np.interp(table.shift_mm[inside], shift, rolls)
    np.testing.assert_allclose(table.roll_rad[inside], seen, atol=2.2e-4)  # 2 steps of roll


def _shift_over_roll(right: Side, left: Side, rolls: np.ndarray) -> np.ndarray:
    """Return by halving the shift at which each roll is in balance."""
    low, high = np.full(rolls.size, -2.0), np.full(rolls.size, 25.0)
    for _ in range(32):
        middle = 0.5 * (low + high)
        over = plain.gaps(right, shift=middle, roll=rolls)[1].min(axis=1)
        other = plain.gaps(left, shift=-middle, roll=-rolls)[1].min(axis=1)
        apart = over > other
        low, high = np.where(apart, middle, low), np.where(apart, high, middle)
    return 0.5 * (low + high)


def test_plain_numpy_says_where_no_roll_settles(
    shapes: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    wheelset, track = shapes.wheelset("S1002"), shapes.track("60E1")
    right, left = prepare(wheelset, track, yaw_rad=0.0, grid_mm=0.2)
    monkeypatch.setattr(plain, "ROLL_STEPS", 1)
    found = plain.search(right, left, shifts_mm=np.array([0.0, 3.0]))
    assert np.isfinite(found.roll_rad[0])  # symmetric: in balance from the start
    assert np.isnan(found.roll_rad[1])
