"""Aligning wheels: what holds each freedom, how sure it is; where a file lies is no matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point

from tapertread.shapes.alignment import Aligned
from tapertread.shapes.cleaning.chain import Cleaned, clean
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.outline import Outline
from tapertread.shapes.synthetic import points_of, with_burr, with_noise
from tapertread.shapes.wheels.aligning import align_on, align_wheel
from tapertread.shapes.wheels.datum import BACK, CHAMFER, TIP, TREAD_END, WORN, wheel_datum
from tapertread.shapes.wheels.fit import Pose
from tapertread.shapes.wheels.synthetic import wear_wheel

S1002 = design_drawing("S1002")
WORN_WHEEL = wear_wheel(S1002, flange_mm=2.0, hollow_mm=1.5, tread_mm=1.0)
PLACES_MM = np.array([[-70.0, 5.0], [-55.0, -27.0], [0.0, 1.5], [50.0, 3.0]])


def aligned_from(outline: Outline) -> Aligned:
    return align_wheel(clean(outline), design=S1002)


def misplaced_mm(aligned: Aligned, *, dy_mm: float, dz_mm: float, turn_rad: float) -> float:
    """How far places of a wheel, moved like the file and aligned again, lie off themselves."""
    there = Pose(dy_mm=dy_mm, dz_mm=dz_mm, turn_rad=turn_rad).of(PLACES_MM)
    back = Pose(
        dy_mm=aligned.dy_mm,
        dz_mm=aligned.dz_mm + (aligned.tread_height_mm or 0.0),
        turn_rad=aligned.turn_rad,
    ).of(there)
    return float(np.abs(back - PLACES_MM).max())


@given(
    dy_mm=st.floats(-300.0, 300.0), dz_mm=st.floats(-300.0, 300.0), turn_deg=st.floats(-15.0, 15.0)
)
@settings(max_examples=20, deadline=None)
def test_where_a_file_lies_is_no_matter(dy_mm: float, dz_mm: float, turn_deg: float) -> None:
    turn = math.radians(turn_deg)
    moved = WORN_WHEEL.outline.moved(dy_mm=dy_mm, dz_mm=dz_mm, turn_rad=turn)
    assert misplaced_mm(aligned_from(moved), dy_mm=dy_mm, dz_mm=dz_mm, turn_rad=turn) < 0.05


def test_the_same_wheel_tilted_and_shifted_gives_the_same_placement() -> None:
    """A tilt of 0.1 rad does not change what is found by more than sampling does."""
    plain = aligned_from(WORN_WHEEL.outline)
    moved = aligned_from(WORN_WHEEL.outline.moved(dy_mm=40.0, dz_mm=-20.0, turn_rad=0.1))
    assert moved.tread_height_mm == pytest.approx(plain.tread_height_mm or 0.0, abs=0.01)
    assert moved.turn_rad + 0.1 == pytest.approx(plain.turn_rad, abs=2e-4)


def test_the_worn_tread_is_the_origin() -> None:
    outline = aligned_from(WORN_WHEEL.outline).outline
    after_tip = int(np.argmin(outline.z_mm))
    assert np.interp(0.0, outline.y_mm[after_tip:], outline.z_mm[after_tip:]) == pytest.approx(
        0.0, abs=1e-9
    )
    assert outline.tape_line_mm == 70.0


def test_tread_loss_is_held_by_tip_and_chamfer() -> None:
    aligned = aligned_from(WORN_WHEEL.outline)
    assert aligned.tread_height is not None
    assert aligned.tread_height.by == "flange tip and rim chamfer"
    assert aligned.tread_height_mm == pytest.approx(WORN_WHEEL.truth["tread_loss_mm"], abs=0.02)


def test_each_movement_names_what_holds_it() -> None:
    aligned = aligned_from(WORN_WHEEL.outline)
    for held in (aligned.across, aligned.turn):
        assert held.anchored
        assert "flange back" in held.by
        assert "rim chamfer" in held.by
    assert aligned.up.by == "tape line"
    assert aligned.confidence > 0.9


@pytest.mark.parametrize("seed", range(4))
def test_stated_spread_of_the_placement_is_that_of_many_readings(seed: int) -> None:
    """Turn and shift of 25 noisy readings of one wheel against what each reading states.

    1.4826 times the median error is the standard deviation of a normal distribution.
    """
    rng = np.random.default_rng(100 + seed)
    found, said = [], []
    for _ in range(25):
        noisy = with_noise(WORN_WHEEL.outline, rng, sigma_mm=0.03)
        aligned = aligned_from(noisy)
        found.append((aligned.dy_mm, aligned.turn_rad))
        said.append((aligned.across.uncertainty, aligned.turn.uncertainty))
    spread = 1.4826 * np.median(np.abs(found), axis=0)
    stated = np.median(said, axis=0)
    assert (spread < 1.9 * stated).all()
    assert (spread > 0.35 * stated).all()


def test_parts_of_the_drawing_are_told_by_shape_alone() -> None:
    datum = wheel_datum(S1002)
    y, z = datum.points.T
    np.testing.assert_allclose(y[datum.part == BACK], -70.0, atol=0.01)
    assert z[datum.part == TIP].min() == pytest.approx(-28.0, abs=1e-3)
    assert y[datum.part == TREAD_END].min() == pytest.approx(53.0, abs=0.3)
    assert y[datum.part == CHAMFER].min() == pytest.approx(60.0, abs=0.3)
    assert (datum.part[np.abs(y) < 40.0] == WORN).all()


def test_outward_distances_are_those_of_shapely() -> None:
    datum = wheel_datum(S1002)
    line = LineString(datum.points)
    rng = np.random.default_rng(1)
    points = datum.points[400:-450:25] + rng.uniform(-0.5, 0.5, (len(datum.points[400:-450:25]), 2))
    ours = np.abs(datum.match(points).outward_mm)
    theirs = [line.distance(Point(yz)) for yz in points]
    assert np.median(np.abs(ours - theirs)) < 0.002
    assert np.abs(ours - theirs).max() < 0.15  # beside the chamfer's corner


@pytest.mark.parametrize("back_mm", [0.6, 1.2, 1.8])
def test_a_back_worn_by_check_rails_does_not_shift_the_wheel(back_mm: float) -> None:
    worn = wear_wheel(S1002, flange_mm=1.0, back_mm=back_mm)
    noisy = with_noise(worn.outline, np.random.default_rng(5), sigma_mm=0.02)
    aligned = aligned_from(noisy)
    assert misplaced_mm(aligned, dy_mm=0.0, dz_mm=0.0, turn_rad=0.0) < 0.12


def test_a_rolled_rim_holds_nothing_and_says_so() -> None:
    noisy = with_noise(
        with_burr(WORN_WHEEL.outline, size_mm=2.0, length_mm=8.0),
        np.random.default_rng(2),
        sigma_mm=0.02,
    )
    aligned = aligned_from(noisy)
    assert misplaced_mm(aligned, dy_mm=0.0, dz_mm=0.0, turn_rad=0.0) < 0.15
    assert "rim chamfer" not in aligned.across.by or aligned.turn.uncertainty < 2e-3


def test_without_rim_the_turn_is_less_sure() -> None:
    noisy = with_noise(WORN_WHEEL.outline, np.random.default_rng(8), sigma_mm=0.03)
    whole, cut = aligned_from(noisy), aligned_from(noisy.cut(-80.0, 45.0))
    assert "rim chamfer" not in cut.turn.by
    assert cut.turn.uncertainty > 1.5 * whole.turn.uncertainty


def test_a_tread_alone_is_held_by_nothing() -> None:
    aligned = aligned_from(WORN_WHEEL.outline.cut(-20.0, 45.0))
    assert not aligned.across.anchored
    assert aligned.across.reason
    assert aligned.tread_height is not None
    assert not aligned.tread_height.anchored


def test_another_design_agrees_less_than_its_own() -> None:
    cleaned: Cleaned = clean(design_drawing("hollow-worn").outline(0.3))
    own = align_wheel(cleaned, design=design_drawing("hollow-worn")).confidence
    other = align_wheel(cleaned, design=design_drawing("freight-1-20")).confidence
    assert own > 0.95
    assert other < 0.8


def test_the_files_own_origin_is_kept_where_it_is_given() -> None:
    moved = WORN_WHEEL.outline.moved(dy_mm=0.3, turn_rad=0.002)
    aligned, fit = align_on(clean(moved), design=S1002, datum="given")
    assert (aligned.dy_mm, aligned.turn_rad) == (0.0, 0.0)
    assert aligned.across.by == "the file's origin"
    assert fit.pose.dy_mm == pytest.approx(-0.3, abs=0.05)
    assert fit.pose.turn_rad == pytest.approx(-0.002, abs=3e-4)


def test_designs_without_flange_are_laid_too() -> None:
    drawing = design_drawing("cylinder-no-flange")
    aligned = align_wheel(clean(drawing.outline(0.3)), design=drawing)
    assert abs(aligned.turn_rad) < 0.02


def test_bridged_points_are_carried_along() -> None:
    kept = np.abs(WORN_WHEEL.outline.arc_mm - 130.0) > 2.0
    points = points_of(WORN_WHEEL.outline)[kept]
    aligned = aligned_from(WORN_WHEEL.outline.with_points(*points.T))
    assert aligned.bridged is not None
    assert aligned.bridged.size == aligned.outline.y_mm.size
    assert aligned.bridged.any()
