"""What each planted fault does to points, and what devices do besides."""

import math

import numpy as np
import pytest
from shapely import LineString

from tapertread.demo.ageing_rails import leaning
from tapertread.demo.chance import Chance
from tapertread.demo.contact import band_mm, touching_mm
from tapertread.demo.devices import measured, noise
from tapertread.demo.faults import SPOILS, Seen, arc_mm, outward
from tapertread.demo.plan import DevicePlan, FaultPlan
from tapertread.demo.rails import new_rail
from tapertread.demo.wheels import new_wheel
from tapertread.shapes.outline import Floats, Outline

QUIET = DevicePlan(
    measures="wheel", step_mm=0.5, sigma_mm=0.0, correlation_mm=3.0, order="as-drawn"
)


def _points(outline: Outline) -> Floats:
    return np.stack((outline.y_mm, outline.z_mm), axis=1)


def _spoiled(trap: str, outline: Outline, size: float) -> tuple[Floats, Floats]:
    points = _points(outline)
    seen = Seen(points=points, kind=outline.kind, chance=Chance.named(1, trap))
    return points, SPOILS[trap](seen, size)


@pytest.mark.parametrize("outline", [new_wheel("S1002"), new_rail("60E1")], ids=["wheel", "rail"])
def test_normals_point_out_of_the_metal(outline: Outline) -> None:
    """At the tread metal lies above, at the crown below."""
    points = _points(outline)
    middle = int(np.argmin(np.abs(points[:, 0])))
    up = outward(points, outline.kind)[middle, 1]
    assert up == pytest.approx(-1.0 if outline.kind == "wheel" else 1.0, abs=0.01)


@pytest.mark.parametrize("outline", [new_wheel("S1002"), new_rail("60E1")], ids=["wheel", "rail"])
def test_a_ball_rides_its_radius_away_from_the_shape(outline: Outline) -> None:
    """Distance by shapely; ends and the 10 mm corners aside the ball touches at one place."""
    points, ball = _spoiled("stylus-ball-not-removed", outline, 2.0)
    curve = LineString(points)
    distances = [curve.distance(one) for one in map(_point, ball[20:-20].tolist())]
    assert np.median(distances) == pytest.approx(2.0, abs=1e-3)
    assert min(distances) > 1.9


def _point(yz: list[float]) -> LineString:
    return LineString([yz, yz])


def test_a_skew_section_is_wider_by_one_over_cosine() -> None:
    points, skew = _spoiled("section-not-square", new_rail("60E1"), 8.0)
    assert np.ptp(skew[:, 0]) / np.ptp(points[:, 0]) == pytest.approx(
        1.0 / math.cos(math.radians(8.0))
    )
    np.testing.assert_array_equal(skew[:, 1], points[:, 1])


def test_a_scale_error_holds_in_every_direction() -> None:
    points, big = _spoiled("scale-error", new_wheel("S1002"), 0.3)
    assert arc_mm(big)[-1] / arc_mm(points)[-1] == pytest.approx(1.003)


def test_a_stitch_lifts_one_side_of_one_place() -> None:
    points, stitched = _spoiled("stitch-step", new_wheel("S1002"), 0.3)
    lift = np.round(stitched[:, 1] - points[:, 1], 9)
    assert set(lift.tolist()) == {0.0, 0.3}
    assert np.count_nonzero(np.diff(lift)) == 1


@pytest.mark.parametrize("outline", [new_wheel("S1002"), new_rail("60E1")], ids=["wheel", "rail"])
def test_glint_moves_six_points_of_the_corner(outline: Outline) -> None:
    points, glint = _spoiled("glint", outline, 1.5)
    moved = np.hypot(*(glint - points).T)
    assert np.count_nonzero(moved) == 6
    assert np.all((moved[moved > 0] > 0.89) & (moved[moved > 0] < 2.11))
    assert np.all(points[moved > 0, 0] < -20.0)


@pytest.mark.parametrize("outline", [new_wheel("S1002"), new_rail("60E1")], ids=["wheel", "rail"])
def test_grease_is_smooth_and_as_thick_as_said(outline: Outline) -> None:
    points, greasy = _spoiled("grease", outline, 0.7)
    thick = np.hypot(*(greasy - points).T)
    assert thick.max() == pytest.approx(0.7, abs=0.01)
    assert np.abs(np.diff(thick)).max() < 0.05
    assert np.count_nonzero(thick) * 0.1 == pytest.approx(10.0, abs=0.5)


def test_made_up_ends_are_straight() -> None:
    points, ends = _spoiled("smoothed-or-extrapolated-end", new_rail("60E1"), 30.0)
    bend = np.diff(np.arctan2(*np.diff(ends, axis=0).T[::-1]))
    straight = arc_mm(points)[1:-1] < 29.0
    assert np.abs(bend[straight]).max() < 1e-6
    middle = np.abs(points[:, 0]) < 15.0
    np.testing.assert_array_equal(ends[middle], points[middle])


def test_noise_has_its_deviation_and_its_length() -> None:
    """Autocorrelation falls to 1/e at the stated length; long run, fixed seed."""
    arc = np.arange(0.0, 20_000.0, 0.5)
    values = noise(arc, 3.0, Chance.named(3, "noise"))
    assert values.std() == pytest.approx(1.0, abs=0.03)
    at = int(3.0 / 0.5)
    correlation = np.corrcoef(values[:-at], values[at:])[0, 1]
    assert correlation == pytest.approx(math.exp(-1.0), abs=0.05)


def _fault(trap: str, size: float, unit: str) -> FaultPlan:
    return FaultPlan(trap=trap, asset="A", campaign="c", side="left", size=size, unit=unit)


def _read(*faults: FaultPlan, device: DevicePlan = QUIET) -> Floats:
    return measured(new_wheel("S1002"), device, faults=faults, chance=Chance.named(2, "read"))


def test_a_quiet_device_without_faults_reads_the_truth() -> None:
    curve = LineString(_points(new_wheel("S1002")))
    assert max(curve.distance(_point(yz)) for yz in _read().tolist()) < 1e-9


def test_tilt_and_bias_move_the_whole_outline() -> None:
    tilted, plain = _read(_fault("tilt", 0.5, "deg")), _read()
    along = plain[-1] - plain[0]
    turned = tilted[-1] - tilted[0]
    angle = math.atan2(turned[1], turned[0]) - math.atan2(along[1], along[0])
    assert math.degrees(angle) == pytest.approx(0.5)
    np.testing.assert_allclose(_read(_fault("datum-bias", 0.3, "mm")) - plain, 0.3)


def test_more_noise_is_what_its_fault_says() -> None:
    off = _read(_fault("correlated-noise", 0.05, "mm")) - _read()
    assert np.hypot(*off.T).std() > 0.0
    assert np.sqrt(np.mean(np.sum(off * off, axis=1))) == pytest.approx(0.05, rel=0.35)


@pytest.mark.parametrize("order", ["as-drawn", "reversed", "two-runs", "shuffled"])
def test_every_order_holds_the_same_points(order: str) -> None:
    device = DevicePlan(
        measures="wheel",
        step_mm=0.5,
        sigma_mm=0.0,
        correlation_mm=3.0,
        order=order,  # type: ignore[arg-type]
    )
    here = sorted(map(tuple, _read(device=device).tolist()))
    assert here == sorted(map(tuple, _read().tolist()))


def test_a_leaning_rail_shows_its_cant_inward() -> None:
    """At 1:40 a flank of height h moves in by h/40, to first order, so that the axis leans."""
    upright = new_rail("60E1")
    leant = leaning(upright, 1.0 / 40.0)
    foot = Outline(kind="rail", y_mm=np.zeros(4), z_mm=np.array([0.0, -10.0, -20.0, -40.0]))
    assert leaning(foot, 1.0 / 40.0).y_mm[-1] == pytest.approx(1.0, abs=0.001)
    assert leant.y_mm[0] - upright.y_mm[0] == pytest.approx(37.3 / 40.0, abs=0.02)


def test_a_wheel_touches_where_normals_agree() -> None:
    """A 1:40 cone rests on the axis of a 1:40 leaning crown, in the rail's upright axes."""
    places = touching_mm(
        new_wheel("cone-1-40"),
        new_rail("60E1"),
        offset_mm=np.array([0.0, 1.0]),
        inclination=1.0 / 40.0,
    )
    assert places == pytest.approx([0.0, 0.0], abs=0.5)
    centre, width = band_mm(np.array([-4.0, 2.0]))
    assert (centre, width) == pytest.approx((-1.0, 14.0))
