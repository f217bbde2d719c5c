"""The line chains, its posts jump once, and its curves are where the plan says."""

import math
from itertools import pairwise

import pytest

from tapertread.demo.line import curvature_per_m, kilometre_jumps, route_pieces, speed_kmh
from tapertread.demo.plan import read_plan
from tapertread.errors import WrongUsage
from tapertread.railway.chaining import build_routes


def test_the_main_line_chains_and_is_as_long_as_its_posts_less_the_jump() -> None:
    plan = read_plan("main")
    routes = build_routes(route_pieces(plan), jumps=kilometre_jumps(plan))
    assert routes["Quenlow", "1"].length_m == pytest.approx(61_000.0, abs=0.01)
    assert routes["Quenlow", "2"].length_m == pytest.approx(24_000.0, abs=0.01)


def test_pieces_leave_no_gap_but_the_jump() -> None:
    pieces = [piece for piece in route_pieces(read_plan("main")) if piece.track == "1"]
    gaps = [
        (before.to_km, after.from_km)
        for before, after in pairwise(pieces)
        if before.to_km != after.from_km
    ]
    assert gaps == [(37.4, 37.9)]


def test_curvature_grows_linearly_along_a_transition() -> None:
    """K01: 90 m of transition from km 2.100 into a right curve of 600 m."""
    plan = read_plan("main")
    assert curvature_per_m(plan, 2.145) == pytest.approx(0.5 / 600.0)
    assert curvature_per_m(plan, 2.38) == pytest.approx(1.0 / 600.0)
    assert curvature_per_m(plan, 1.0) == 0.0


def test_cant_deficiency_stays_within_a_common_150_mm() -> None:
    """Equilibrium cant 11.8 V² / R mm at 1500 mm (handbook form); 150 mm from memory."""
    for curve in read_plan("main").curve:
        balance = 11.8 * curve.speed_kmh**2 / abs(curve.radius_m)
        assert 0.0 < balance - curve.cant_mm < 150.0, curve.id


def test_the_plain_is_fast_and_the_hills_are_sharp() -> None:
    plan = read_plan("main")
    assert speed_kmh(plan, 50.0) == 200.0
    hills = [abs(curve.radius_m) for curve in plan.curve if curve.km < 30.0]
    assert min(hills) == 250.0
    assert max(hills) == 600.0


def test_us_curves_are_whole_degrees_by_the_100_ft_chord() -> None:
    """R = 50 ft / sin(D/2): exact form of the chord definition."""
    degrees = [
        math.degrees(2.0 * math.asin(15.24 / curve.radius_m)) for curve in read_plan("us").curve
    ]
    assert degrees == pytest.approx([2.0, -4.0, 6.0, -8.0, -6.0, 1.0], abs=1e-6)


def test_an_unknown_railway_is_refused_with_those_that_exist() -> None:
    with pytest.raises(WrongUsage, match="main, us"):
        read_plan("atlantis")  # type: ignore[arg-type]
