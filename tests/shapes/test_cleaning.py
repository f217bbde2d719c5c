"""Cleaning: order, duplicates, outliers, gaps, noise, smoothing, the stylus ball."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import savgol_coeffs
from scipy.spatial import KDTree
from scipy.spatial.distance import pdist, squareform
from shapely import LineString, Point

from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.cleaning.crossings import loops_mm
from tapertread.shapes.cleaning.noise import Noise, NoisePart, estimate_noise
from tapertread.shapes.cleaning.ordering import _shortest_tree, curve_order, unique_points
from tapertread.shapes.cleaning.outliers import find_outliers
from tapertread.shapes.cleaning.resampling import find_gaps
from tapertread.shapes.cleaning.smoothing import find_corners, window
from tapertread.shapes.cleaning.stylus import without_ball
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline
from tapertread.shapes.synthetic import (
    correlated,
    displaced,
    points_of,
    shuffled,
    with_ball,
    with_gap,
    with_glint,
    with_noise,
    with_outliers,
)

WHEEL = design("S1002", step_mm=0.3)
RAIL = design("60E1", step_mm=0.3)
FINE = LineString(points_of(design("S1002", step_mm=0.02)))


def off_the_design_mm(outline: Outline) -> np.ndarray:
    """Distances of an outline's points from the S1002, by shapely."""
    return np.array([FINE.distance(Point(yz)) for yz in points_of(outline)])


# ------------------------------------------------------------------ order


@pytest.mark.parametrize("outline", [WHEEL, RAIL], ids=["wheel", "rail"])
@pytest.mark.parametrize("seed", range(3))
def test_any_order_of_points_gives_the_same_curve(outline: Outline, seed: int) -> None:
    rng = np.random.default_rng(seed)
    first, second = clean(outline), clean(shuffled(outline, rng))
    np.testing.assert_array_equal(second.outline.y_mm, first.outline.y_mm)
    np.testing.assert_array_equal(second.outline.z_mm, first.outline.z_mm)
    assert "points put into curve order" in second.steps


def test_a_file_written_backwards_or_in_halves_gives_the_same_curve() -> None:
    half = WHEEL.y_mm.size // 2
    order = np.r_[half : WHEEL.y_mm.size, 0:half]
    halves = WHEEL.with_points(WHEEL.y_mm[order], WHEEL.z_mm[order])
    backwards = WHEEL.with_points(WHEEL.y_mm[::-1], WHEEL.z_mm[::-1])
    for written in (halves, backwards):
        np.testing.assert_allclose(
            points_of(clean(written).outline), points_of(clean(WHEEL).outline), atol=1e-9
        )


def test_the_curve_runs_from_flange_back_to_rim() -> None:
    cleaned = clean(WHEEL.with_points(WHEEL.y_mm[::-1], WHEEL.z_mm[::-1])).outline
    assert cleaned.y_mm[0] == pytest.approx(-70.0, abs=1e-6)
    assert cleaned.y_mm[-1] == pytest.approx(65.0, abs=1e-6)


def test_shortest_tree_is_as_short_as_one_of_all_distances() -> None:
    """Against Prim's algorithm on the full table of distances."""
    points = np.random.default_rng(4).uniform(0.0, 50.0, (120, 2))
    distances = squareform(pdist(points))
    inside, total = {0}, 0.0
    while len(inside) < len(points):
        members = sorted(inside)
        rest = [index for index in range(len(points)) if index not in inside]
        block = distances[np.ix_(members, rest)]
        total += float(block.min())
        inside.add(rest[int(block.min(axis=0).argmin())])
    assert _shortest_tree(points).sum() == pytest.approx(total)


def test_order_keeps_a_trace_that_already_follows_the_curve() -> None:
    np.testing.assert_array_equal(curve_order(points_of(WHEEL)), np.arange(WHEEL.y_mm.size))


def test_duplicates_go_and_are_counted() -> None:
    points = points_of(WHEEL)
    doubled = np.vstack([points, points[40:60]])
    kept, gone = unique_points(doubled)
    assert gone == 20
    np.testing.assert_array_equal(kept, points)
    cleaned = clean(WHEEL.with_points(*doubled.T))
    assert cleaned.removed == 20
    assert "20 duplicate points left out" in cleaned.steps


# ------------------------------------------------------------------ outliers and gaps


@given(seed=st.integers(0, 10_000), size_mm=st.floats(0.6, 6.0), count=st.integers(1, 8))
@settings(max_examples=25, deadline=None)
def test_single_outliers_are_found_and_the_curve_survives(
    seed: int, size_mm: float, count: int
) -> None:
    rng = np.random.default_rng(seed)
    cleaned = clean(with_outliers(WHEEL, rng, count=count, size_mm=size_mm))
    off = off_the_design_mm(cleaned.outline)
    assert off[~cleaned.bridged].max() < 0.25  # a gap across a corner is bridged, and reported
    assert off.max() < 0.25 or cleaned.gaps


def test_a_stray_that_continues_the_last_piece_is_none_of_it() -> None:
    points = points_of(WHEEL)
    way = points[-1] - points[-2]
    stray = points[-1] + 1.8 * way / np.hypot(*way)
    for flown in (np.vstack([points, stray]), np.vstack([stray, points[::-1]])):
        outlier = find_outliers(flown)
        assert outlier.sum() == 1
        np.testing.assert_array_equal(flown[outlier][0], stray)


def test_no_point_of_a_clean_or_noisy_curve_is_an_outlier() -> None:
    rng = np.random.default_rng(0)
    for outline in (WHEEL, RAIL, with_noise(WHEEL, rng, sigma_mm=0.05)):
        assert not find_outliers(points_of(outline)).any()


def test_ends_and_corners_stay() -> None:
    corner = np.flatnonzero(WHEEL.y_mm > 59.0)[0]
    found = find_outliers(points_of(WHEEL))
    assert not found[[0, corner, corner + 2, -1]].any()


def test_a_stray_first_point_goes() -> None:
    points = points_of(WHEEL)
    points[0] += [2.0, 0.0]
    assert find_outliers(points)[0]


def test_of_a_scattered_stretch_nothing_is_kept() -> None:
    rng = np.random.default_rng(2)
    cleaned = clean(with_glint(WHEEL, rng, at_mm=75.0, length_mm=4.0, size_mm=1.5))
    assert 6 <= cleaned.strays.shape[0] <= 30
    assert off_the_design_mm(cleaned.outline).max() < 0.2


def test_a_gap_is_reported_with_place_and_size() -> None:
    cleaned = clean(with_gap(WHEEL, at_mm=140.0, length_mm=5.0))
    (gap,) = cleaned.gaps
    assert gap.length_mm == pytest.approx(5.0, abs=0.7)
    assert cleaned.bridged.sum() * 0.2 == pytest.approx(5.0, abs=0.8)
    assert any(trap.name == "gap" and "5." in trap.found for trap in cleaned.traps)
    at = cleaned.outline.y_mm[cleaned.bridged]
    assert gap.from_mm[0] < at.min() <= at.max() < gap.to_mm[0]


def test_wide_spacing_is_no_gap() -> None:
    coarse = points_of(design("S1002", step_mm=0.1).resampled(1.4))
    assert find_gaps(coarse, spacing_mm=1.4) == ()


# ------------------------------------------------------------------ noise


@pytest.mark.parametrize("length_mm", [2.0, 3.5, 5.0])
def test_noise_is_estimated_within_what_one_outline_can_tell(length_mm: float) -> None:
    """100 mm of tread hold some twenty independent stretches: the median over seeds must hold."""
    arc = np.arange(0.0, 100.0, 0.4)
    quiet = np.ones(arc.size, dtype=bool)
    found = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        normal = correlated(arc, rng, sigma_mm=0.05, length_mm=length_mm, fall="exponential")
        estimate = estimate_noise(np.column_stack([arc, normal]), quiet=quiet, step_mm=0.4)
        found.append(estimate.sigma_mm)
    assert 0.036 < np.median(found) < 0.068
    assert np.percentile(found, 5.0) > 0.02


def test_a_smooth_curve_has_hardly_any_noise() -> None:
    assert clean(WHEEL).noise_mm < 0.005
    assert clean(RAIL).noise_mm < 0.02  # its arcs of 300 and 80 mm meet with a jump of curvature


def test_noise_needs_a_quiet_stretch() -> None:
    points = np.random.default_rng(1).normal(size=(200, 2))
    assert estimate_noise(points, quiet=np.zeros(200, dtype=bool), step_mm=0.4) == Noise()


def test_a_reading_carries_the_noise_that_its_weights_let_through() -> None:
    """Against sampling: standard deviation of 4000 weighted sums."""
    noise = Noise(parts=(NoisePart(variance_mm2=0.0025, length_mm=3.0),))
    weights = np.hanning(40) / np.hanning(40).sum()
    rng = np.random.default_rng(0)
    arc = 0.2 * np.arange(40)
    sums = [
        weights @ correlated(arc, rng, sigma_mm=0.05, length_mm=3.0, fall="exponential")
        for _ in range(4000)
    ]
    said = noise.of_reading(weights, step_mm=0.2)
    assert said == pytest.approx(float(np.std(sums)), rel=0.04)  # 1/sqrt(2 * 4000) = 1.1 %


def test_correlation_length_is_where_the_correlation_falls_to_one_in_e() -> None:
    noise = Noise(parts=(NoisePart(variance_mm2=1.0, length_mm=3.0),))
    assert noise.correlation_mm == pytest.approx(3.0, abs=0.15)
    gaussian = Noise(parts=(NoisePart(variance_mm2=1.0, length_mm=3.0, fall="gaussian"),))
    assert gaussian.correlation_mm == pytest.approx(3.0 * 2.0**0.5, abs=0.15)


# ------------------------------------------------------------------ smoothing


@pytest.mark.parametrize("size", [9, 17, 33, 91])
def test_local_cubics_have_savitzky_and_golays_weights(size: int) -> None:
    """Against scipy.signal.savgol_coeffs."""
    np.testing.assert_allclose(window(size).middle, savgol_coeffs(size, 3), atol=1e-12)


def test_local_cubics_leave_a_cubic_alone_to_its_very_ends() -> None:
    x = np.linspace(-1.0, 1.0, 60)
    curve = np.column_stack([x, 2.0 - x + 3.0 * x**2 - 4.0 * x**3])
    np.testing.assert_allclose(window(17).run(curve), curve, atol=1e-12)


def test_noise_left_falls_with_width_but_not_within_its_own_length() -> None:
    noise = Noise(parts=(NoisePart(variance_mm2=0.0025, length_mm=3.0),))
    covariance = noise.covariance(0.2 * np.arange(91.0))
    left = [window(size).left_mm(covariance) for size in (1, 9, 33, 91)]
    assert left[0] == pytest.approx(0.05)
    assert left == sorted(left, reverse=True)
    assert left[1] > 0.95 * left[0]
    assert left[3] < 0.75 * left[0]


@pytest.mark.parametrize("seed", range(6))
def test_smoothing_brings_a_noisy_curve_nearer_to_the_truth(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cleaned = clean(with_noise(WHEEL, rng, sigma_mm=0.04, length_mm=2.0))
    smooth, rough = (
        np.sqrt(np.mean(off_the_design_mm(one) ** 2)) for one in (cleaned.outline, cleaned.sampled)
    )
    assert smooth < rough
    assert 0.5 * smooth < np.sqrt(np.mean(cleaned.point_noise_mm**2)) < 2.0 * smooth


def test_corners_are_found_and_kept() -> None:
    """The rim chamfer of the drawing begins at y = 60 mm with a corner of 41 degrees."""
    cleaned = clean(with_noise(WHEEL, np.random.default_rng(5), sigma_mm=0.02))
    at = find_corners(points_of(cleaned.sampled), step_mm=0.2)
    assert any(abs(cleaned.sampled.y_mm[index] - 60.0) < 0.6 for index in at)
    near = np.abs(cleaned.outline.y_mm - 60.0) < 2.0
    assert off_the_design_mm(cleaned.outline)[near].max() < 0.15


# ------------------------------------------------------------------ stylus, crossings, speed


def test_the_ball_comes_off_as_shapely_offsets_it() -> None:
    radius = 2.0
    path = with_ball(design("S1002", step_mm=0.1), radius_mm=radius)
    _, metal = without_ball(points_of(path), radius_mm=radius, kind="wheel")
    inner = metal[np.abs(metal[:, 0] - 60.0) > 2.5]
    distances = [FINE.distance(Point(yz)) for yz in inner]
    assert np.percentile(distances, 99.0) < 0.01
    own = LineString(points_of(path))
    gaps = [own.distance(Point(yz)) for yz in inner[20:-20]]
    assert np.median(gaps) == pytest.approx(radius, abs=1e-3)


def test_a_rails_ball_lies_on_its_other_side() -> None:
    path = with_ball(RAIL, radius_mm=2.0)
    assert path.z_mm.max() == pytest.approx(2.0, abs=1e-3)
    _, metal = without_ball(points_of(path), radius_mm=2.0, kind="rail")
    assert metal[:, 1].max() == pytest.approx(0.0, abs=1e-3)


def test_cleaning_takes_the_ball_off_and_says_so() -> None:
    cleaned = clean(with_ball(WHEEL, radius_mm=1.5), stylus_radius_mm=1.5)
    assert "stylus ball of 1.5 mm radius taken off" in cleaned.steps
    away = off_the_design_mm(cleaned.outline)
    assert np.percentile(away, 95.0) < 0.03
    assert cleaned.point_noise_mm.size == cleaned.outline.y_mm.size == cleaned.bridged.size


@given(seed=st.integers(0, 1000), radius=st.floats(1.0, 6.0))
@settings(max_examples=20, deadline=None)
def test_loops_are_found_where_shapely_finds_the_curve_not_simple(seed: int, radius: float) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi + 0.7, 150)
    lead = np.random.default_rng(seed).uniform(0.5, 1.5)
    loop = radius * np.column_stack([np.sin(turn) + lead * turn, np.cos(turn)])
    crosses = not LineString(loop).is_simple
    assert bool(loops_mm(loop, least_mm=0.0)) == crosses


def test_small_loops_are_noise() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi + 0.7, 60)
    small = 0.12 * np.column_stack([np.sin(turn) + 0.5 * turn, np.cos(turn)])
    assert loops_mm(small) == []


def test_cleaning_is_quick() -> None:
    """400 outlines must be done in a couple of seconds; the bound allows for a busy machine."""
    noisy = with_noise(WHEEL, np.random.default_rng(0), sigma_mm=0.03)
    clean(noisy)
    best = min(_seconds(noisy) for _ in range(5))
    assert best < 0.015


def _seconds(outline: Outline) -> float:
    start = time.perf_counter()
    clean(outline)
    return time.perf_counter() - start


def test_what_was_measured_is_hardly_moved_where_there_is_no_noise() -> None:
    cleaned = clean(WHEEL)
    away = KDTree(points_of(cleaned.outline)).query(points_of(WHEEL))[0]
    assert np.max(away) < 0.12  # half a step of 0.2 mm along the curve
    assert np.percentile(off_the_design_mm(cleaned.outline), 99.0) < 0.01
    assert off_the_design_mm(cleaned.outline).max() < 0.05  # the chamfer's corner, between points


def test_displacement_is_along_the_normal() -> None:
    moved = displaced(WHEEL, np.full(WHEEL.y_mm.size, 0.5))
    away = [FINE.distance(Point(yz)) for yz in points_of(moved)]
    assert np.median(away) == pytest.approx(0.5, abs=1e-3)
