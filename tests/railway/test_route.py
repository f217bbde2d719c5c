"""Routes: posts to distance and back through jumps, curvature and cant along the track."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tapertread.errors import SurveyRefused
from tapertread.railway import (
    KilometreJump,
    Lubricator,
    RoutePiece,
    Section,
    build_kilometres,
    build_route,
    build_routes,
)


def test_worked_example_of_a_short_and_a_long_kilometre(jumping) -> None:
    """The table in the fixture, added up by hand."""
    assert jumping.length_m == pytest.approx(3050.0)
    assert jumping.distance_m(10.5) == pytest.approx(500.0)
    assert jumping.distance_m(11.2) == pytest.approx(900.0)
    assert jumping.distance_m(12.4) == pytest.approx(2450.0)
    assert jumping.distances_m(12.1) == pytest.approx([1800.0, 2150.0])


def test_a_stretch_tells_the_two_kilometres_apart(jumping) -> None:
    assert jumping.distance_m(12.1, stretch=1) == pytest.approx(1800.0)
    assert jumping.distance_m(12.1, stretch=2) == pytest.approx(2150.0)


def test_a_kilometre_at_a_short_jump_is_one_place(jumping) -> None:
    assert jumping.distance_m(10.7) == pytest.approx(jumping.distance_m(11.0)) == 700.0
    assert float(jumping.km_of(700.0)) == pytest.approx(11.0)


def test_distances_go_back_to_their_kilometres(jumping) -> None:
    at = np.linspace(0.0, jumping.length_m, 611)
    km, stretch = jumping.km_of(at), jumping.stretch_of(at)
    back = [jumping.distance_m(k, stretch=s) for k, s in zip(km, stretch, strict=True)]
    assert back == pytest.approx(at, abs=1e-6)
    assert set(stretch.tolist()) == {0, 1, 2}


def test_vectors_keep_their_shape(jumping) -> None:
    km = np.array([[10.1, 11.5], [12.9, 10.1]])
    assert jumping.distances_of(km) == pytest.approx(np.array([[100.0, 1200.0], [2950.0, 100.0]]))


def test_curvature_runs_linearly_through_a_transition(jumping) -> None:
    at = jumping.distance_m(11.2) + np.array([0.0, 25.0, 50.0, 100.0])
    expected = [0.0, -0.25 / 400.0, -0.5 / 400.0, -1.0 / 400.0]
    assert jumping.curvature_per_m(at) == pytest.approx(expected)


def test_the_angle_turned_is_that_of_curve_and_half_transitions(jumping) -> None:
    """Integral of curvature by scipy against (curve + half of both transitions)/radius."""
    joints = [float(m) for m in jumping.from_m[1:]]
    turned = quad(
        lambda m: float(jumping.curvature_per_m(m)), 0.0, jumping.length_m, points=joints, limit=200
    )[0]
    assert turned == pytest.approx(-(950.0 + 50.0 + 50.0) / 400.0, rel=1e-6)


def test_cant_raises_the_outer_rail_and_eases_with_the_curvature(jumping) -> None:
    at = jumping.distance_m(11.25)
    assert float(jumping.cant_mm(at)) == pytest.approx(50.0)
    assert float(jumping.left_raised_mm(at)) == pytest.approx(-50.0)


def test_a_right_curve_raises_the_left_rail(make_piece) -> None:
    route = build_route([make_piece(0.0, 1.0, "curve", 300.0, 90.0)])
    assert float(route.left_raised_mm(500.0)) == pytest.approx(90.0)
    assert float(route.curvature_per_m(500.0)) > 0.0


def test_touching_transitions_meet_straight_and_level(make_piece) -> None:
    route = build_route(
        [
            make_piece(0.0, 0.2, "curve", 300.0, 90.0),
            make_piece(0.2, 0.3, "transition"),
            make_piece(0.3, 0.4, "transition"),
            make_piece(0.4, 0.6, "curve", -300.0, 60.0),
        ]
    )
    assert route.curvature_per_m([250.0, 300.0, 350.0]) == pytest.approx(
        [0.5 / 300.0, 0.0, -0.5 / 300.0]
    )
    assert route.cant_mm([250.0, 300.0, 350.0]) == pytest.approx([45.0, 0.0, 30.0])


def test_the_order_of_rows_does_not_matter_without_a_long_kilometre(make_piece) -> None:
    pieces = [make_piece(0.0, 1.0), make_piece(1.0, 2.0, "curve", 500.0), make_piece(2.0, 3.0)]
    assert build_route(pieces[::-1]).pieces == tuple(pieces)


def test_a_piece_may_run_through_a_short_kilometre(make_piece, make_jump) -> None:
    route = build_route([make_piece(20.5, 21.2)], jumps=[make_jump(20.7, 21.0)])
    assert route.length_m == pytest.approx(400.0)


def test_gaps_are_reported_with_both_reckonings(make_piece) -> None:
    route = build_route([make_piece(0.0, 1.0), make_piece(1.25, 2.0)])
    (gap,) = route.gaps
    assert (gap.from_km, gap.to_km, gap.length_m) == (1.0, 1.25, pytest.approx(250.0))
    assert route.piece_index([999.0, 1100.0, 1250.0, 2000.0, 2001.0]).tolist() == [0, -1, 1, 1, -1]


def test_speed_and_piece_at_a_joint_are_those_of_the_next_piece(jumping) -> None:
    assert jumping.piece_at(11.3).kind == "curve"
    assert jumping.speed_kmh([0.0, 3050.0]).tolist() == [80.0, 80.0]
    assert jumping.sharpest().radius_m == -400.0


def test_a_section_and_a_lubricator_find_their_place(jumping) -> None:
    section = Section(
        section="S1", line="Varn", track="1", km=12.1, stretch=2, campaign="c", rail_design="60E1"
    )
    oiler = Lubricator(lubricator="L", line="Varn", track="1", km=11.1, kind="gauge-face")
    assert jumping.place_of(section) == pytest.approx(2150.0)
    assert jumping.place_of(oiler) == pytest.approx(800.0)


def test_parallel_tracks_are_routes_of_their_own(make_piece) -> None:
    def other(km: float) -> RoutePiece:
        return RoutePiece(
            line="Varn", track="2", from_km=km, to_km=km + 1.0, kind="straight", speed_kmh=60.0
        )

    jump = KilometreJump(line="Varn", track="2", km=1.0, continues_km=1.1)
    routes = build_routes([make_piece(0.0, 2.0), other(0.0), other(1.1)], jumps=[jump])
    assert routes["Varn", "1"].length_m == pytest.approx(2000.0)
    assert routes["Varn", "2"].length_m == pytest.approx(2000.0)
    assert routes["Varn", "2"].gaps == ()


@given(
    lengths=st.lists(st.integers(100, 3000), min_size=2, max_size=6),
    jumps_m=st.lists(st.integers(-900, 900).filter(lambda j: abs(j) > 1), min_size=1, max_size=5),
)
def test_any_chain_of_jumps_adds_up_to_the_lengths(lengths: list[int], jumps_m: list[int]) -> None:
    """Property: whatever the posts do, each piece keeps its own length."""
    pieces, jumps, km = [], [], 100.0
    for at, length in enumerate(lengths):
        end = km + length / 1000.0
        pieces.append(
            RoutePiece(line="V", track="1", from_km=km, to_km=end, kind="straight", speed_kmh=50.0)
        )
        step = jumps_m[at % len(jumps_m)]
        km = end + max(step, -length + 1) / 1000.0
        if at + 1 < len(lengths):
            jumps.append(KilometreJump(line="V", track="1", km=end, continues_km=km))
    route = build_route(pieces, jumps=jumps)
    assert route.length_m == pytest.approx(sum(lengths), abs=0.01)
    assert route.gaps == ()


def test_posts_without_jumps_are_one_stretch() -> None:
    posts = build_kilometres()
    assert posts.stretches == 1
    assert posts.places_m(2.5) == [2500.0]
    assert posts.place_m(2.5, stretch=1) is None


def refusal(*pieces: RoutePiece, jumps: tuple[KilometreJump, ...] = ()) -> SurveyRefused:
    with pytest.raises(SurveyRefused) as caught:
        build_route(pieces, jumps=jumps)
    return caught.value


def test_overlapping_kilometres_are_refused_with_both_pieces(make_piece) -> None:
    refused = refusal(make_piece(0.0, 1.0), make_piece(0.9, 2.0))
    assert refused.code == "overlapping-kilometres"
    assert "100.0 m" in refused.found
    assert "km 0.000 to 1.000" in refused.found
    assert refused.where.record == "Varn 1 km 0.900 to 2.000"


def test_a_doubled_kilometre_without_its_jump_is_an_overlap(make_piece) -> None:
    refused = refusal(make_piece(11.0, 12.35), make_piece(12.0, 13.0))
    assert refused.code == "overlapping-kilometres"
    assert "equation table" in refused.todo


@pytest.mark.parametrize("step_m", [0.0, 0.005])
def test_joints_within_rounding_are_neither_gap_nor_overlap(make_piece, step_m: float) -> None:
    route = build_route([make_piece(0.0, 1.0 + step_m / 1000.0), make_piece(1.0, 2.0)])
    assert route.gaps == ()


def test_pieces_that_run_backwards_or_nowhere_are_refused(make_piece) -> None:
    assert refusal(make_piece(2.0, 1.0)).code == "piece-off-posts"
    assert refusal(make_piece(1.0, 1.0)).code == "piece-without-length"
    assert refusal().code == "route-empty"


def test_kilometres_left_out_by_a_jump_do_not_exist(make_piece, make_jump, jumping) -> None:
    refused = refusal(make_piece(10.8, 12.0), jumps=(make_jump(10.7, 11.0),))
    assert refused.code == "piece-off-posts"
    with pytest.raises(SurveyRefused, match="kilometre-not-on-route"):
        jumping.distance_m(10.85)


def test_a_doubled_kilometre_is_ambiguous_until_its_stretch_is_said(jumping) -> None:
    with pytest.raises(SurveyRefused) as caught:
        jumping.distance_m(12.1)
    assert caught.value.code == "kilometre-ambiguous"
    assert "stretches 1, 2" in caught.value.found
    with pytest.raises(SurveyRefused, match="kilometre-not-on-route"):
        jumping.distance_m(12.1, stretch=0)


@pytest.mark.parametrize("km", [9.999, 13.2, math.nan])
def test_kilometres_off_the_route_are_refused(jumping, km: float) -> None:
    with pytest.raises(SurveyRefused, match="kilometre-not-on-route"):
        jumping.distance_m(km)


def test_curves_need_a_radius_and_straights_have_none(make_piece) -> None:
    assert refusal(make_piece(0.0, 1.0, "curve")).code == "curve-without-radius"
    assert refusal(make_piece(0.0, 1.0, "curve", 0.0)).code == "curve-without-radius"
    assert refusal(make_piece(0.0, 1.0, "straight", 300.0)).code == "straight-with-radius"


def test_a_transition_needs_both_neighbours(make_piece) -> None:
    first = refusal(make_piece(0.0, 1.0, "transition"), make_piece(1.0, 2.0))
    assert first.code == "transition-without-neighbour"
    assert "before" in first.found
    beside_gap = refusal(
        make_piece(0.0, 1.0), make_piece(1.0, 1.1, "transition"), make_piece(1.2, 2.0)
    )
    assert "after" in beside_gap.found


@pytest.mark.parametrize("place_m", [-1.0, 1100.0, math.nan])
def test_nothing_is_said_about_places_without_a_piece(make_piece, place_m: float) -> None:
    route = build_route([make_piece(0.0, 1.0), make_piece(1.25, 2.0)])
    for ask in (route.curvature_per_m, route.cant_mm, route.speed_kmh):
        with pytest.raises(SurveyRefused, match="place-in-gap"):
            ask(place_m)


def test_jumps_that_make_no_sense_are_refused(make_piece, make_jump) -> None:
    nothing = refusal(make_piece(0.0, 2.0), jumps=(make_jump(1.0, 1.0),))
    assert nothing.code == "jump-of-nothing"
    order = refusal(make_piece(0.0, 9.0), jumps=(make_jump(5.0, 6.0), make_jump(2.0, 3.0)))
    assert order.code == "jumps-out-of-order"
    assert order.where.record == "Varn 1 jump at km 2.000"


def test_a_jump_of_an_unknown_track_is_refused(make_piece) -> None:
    stray = KilometreJump(line="Varn", track="9", km=1.0, continues_km=2.0)
    with pytest.raises(SurveyRefused, match="jump-without-route"):
        build_routes([make_piece(0.0, 1.0)], jumps=[stray])
