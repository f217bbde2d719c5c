"""What the contact room refuses, by name, and what it leaves as no number."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from tapertread.contact import (
    TrackShape,
    WheelsetShape,
    contact_table,
    flange_spacing_mm,
    needed_difference_mm,
    pair_up,
    steer_curve,
    steering_reach,
    wavelength_m,
)
from tapertread.errors import ContactRefused, OutlineRefused, RefusedInput
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline


@pytest.fixture
def wheelset() -> WheelsetShape:
    wheel = design("S1002")
    return WheelsetShape(
        left=wheel, right=wheel, left_radius_mm=460.0, right_radius_mm=460.0, back_to_back_mm=1360.0
    )


@pytest.fixture
def track() -> TrackShape:
    rail = design("60E1")
    return TrackShape(left=rail, right=rail)


def _refused(wheelset: WheelsetShape, track: TrackShape, **options: object) -> ContactRefused:
    with pytest.raises(ContactRefused) as caught:
        contact_table(wheelset, track, **options)  # type: ignore[arg-type]
    assert isinstance(caught.value, RefusedInput)
    assert caught.value.allowed
    assert caught.value.todo
    json.dumps(caught.value.to_dict())
    return caught.value


@pytest.mark.parametrize("gauge_mm", [1400.0, 1425.0])
def test_a_gauge_narrower_than_the_wheelset(
    wheelset: WheelsetShape, track: TrackShape, gauge_mm: float
) -> None:
    error = _refused(wheelset, replace(track, gauge_mm=gauge_mm))
    assert error.code == "gauge-too-narrow"
    assert "1425.0 mm" in error.found
    assert f"{gauge_mm:.1f} mm" in error.found


def test_a_gauge_that_just_fits_is_no_refusal(wheelset: WheelsetShape, track: TrackShape) -> None:
    spacing = flange_spacing_mm(wheelset)
    assert spacing is not None
    table = contact_table(wheelset, replace(track, gauge_mm=spacing + 1.0))
    assert np.isfinite(table.roll_rad[table.shift_mm == 0.0]).all()


@pytest.mark.parametrize(
    ("shifts", "found"),
    [
        ([], "not one row"),
        ([[0.0, 1.0], [2.0, 3.0]], "not one row"),
        ([0.0, math.nan, 1.0], "finite"),
        ([0.0, math.inf], "finite"),
        ([0.0, 1.0, 1.0], "do not rise"),
        ([1.0, 0.0], "do not rise"),
    ],
)
def test_bad_shifts(
    wheelset: WheelsetShape, track: TrackShape, shifts: list[object], found: str
) -> None:
    error = _refused(wheelset, track, shifts_mm=shifts)
    assert error.code == "bad-shifts"
    assert found in error.found


@pytest.mark.parametrize("value", [math.nan, math.inf, 0.0, -460.0])
@pytest.mark.parametrize("name", ["left_radius_mm", "right_radius_mm", "back_to_back_mm"])
def test_sizes_of_a_wheelset_that_are_no_lengths(
    wheelset: WheelsetShape, track: TrackShape, name: str, value: float
) -> None:
    error = _refused(replace(wheelset, **{name: value}), track)
    assert error.code == "bad-size"
    assert name in error.found


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("gauge_mm", math.nan),
        ("gauge_mm", -1435.0),
        ("inclination", math.nan),
        ("inclination", 20.0),  # given as 1 in 20, not as a slope
        ("inclination", 40.0),
    ],
)
def test_sizes_of_a_track(
    wheelset: WheelsetShape, track: TrackShape, name: str, value: float
) -> None:
    error = _refused(wheelset, replace(track, **{name: value}))
    assert error.code == "bad-size"
    assert name in error.found


@pytest.mark.parametrize(
    "options",
    [
        {"yaw_rad": math.nan},
        {"yaw_rad": 24.0},  # milliradians given as radians
        {"grid_mm": 0.0},
        {"grid_mm": math.nan},
    ],
)
def test_yaw_and_grid(
    wheelset: WheelsetShape, track: TrackShape, options: dict[str, float]
) -> None:
    error = _refused(wheelset, track, **options)
    assert error.code == "bad-size"
    assert next(iter(options)) in error.found


def test_a_rail_too_shallow_for_its_gauge_point(wheelset: WheelsetShape, track: TrackShape) -> None:
    whole = design("60E1")
    head = whole.z_mm > -12.0
    shallow = whole.with_points(whole.y_mm[head], whole.z_mm[head])
    error = _refused(wheelset, replace(track, right=shallow))
    assert error.code == "rail-too-shallow"
    assert "14 mm" in error.allowed
    error = _refused(wheelset, replace(track, right=shallow, gauge_rule="at-five-eighths-inch"))
    assert "15.875 mm" in error.allowed


def test_a_tube_has_no_point_five_eighths_inch_down(wheelset: WheelsetShape) -> None:
    tube = design("tube", radius_mm=10.0)
    track = TrackShape(left=tube, right=tube, gauge_mm=1480.0, gauge_rule="at-five-eighths-inch")
    assert _refused(wheelset, track).code == "rail-too-shallow"


@pytest.mark.parametrize(("low", "high"), [(-36.0, -27.0), (-12.0, 8.0)])
def test_an_outline_with_a_hole_where_it_could_touch(
    wheelset: WheelsetShape, track: TrackShape, low: float, high: float
) -> None:
    whole = design("60E1")
    keep = (whole.y_mm < low) | (whole.y_mm > high)
    holed = whole.with_points(whole.y_mm[keep], whole.z_mm[keep])
    error = _refused(wheelset, replace(track, left=holed))
    assert error.code == "outline-with-a-hole"
    assert "mm without a point" in error.found


def test_a_hole_in_a_wheels_flange_root(wheelset: WheelsetShape, track: TrackShape) -> None:
    whole = design("S1002")
    keep = (whole.y_mm < -38.0) | (whole.y_mm > -26.0)
    holed = whole.with_points(whole.y_mm[keep], whole.z_mm[keep])
    assert _refused(replace(wheelset, left=holed), track).code == "outline-with-a-hole"


def test_a_hole_where_nothing_touches_is_no_refusal(
    wheelset: WheelsetShape, track: TrackShape
) -> None:
    """The flange back and a rail's web may be left out by a device."""
    wheel, rail = design("S1002"), design("60E1")
    back = (wheel.y_mm > -69.0) | (wheel.z_mm > 10.0)
    side = (rail.z_mm > -20.0) | (rail.z_mm < -34.0)
    holed = replace(wheelset, left=wheel.with_points(wheel.y_mm[back], wheel.z_mm[back]))
    web = rail.with_points(rail.y_mm[side], rail.z_mm[side])
    found = contact_table(holed, replace(track, left=web, right=web))
    whole = contact_table(wheelset, track)
    np.testing.assert_allclose(
        found.rolling_radius_difference_mm, whole.rolling_radius_difference_mm, atol=1e-3
    )


@pytest.mark.parametrize("kind", ["wheel", "rail"])
def test_an_outline_in_reversed_order(
    wheelset: WheelsetShape, track: TrackShape, kind: str
) -> None:
    """The same points, but every angle would point the other way."""
    whole = design("S1002" if kind == "wheel" else "60E1")
    back = whole.with_points(whole.y_mm[::-1], whole.z_mm[::-1])
    pair = (
        (replace(wheelset, left=back), track)
        if kind == "wheel"
        else (
            wheelset,
            replace(track, left=back),
        )
    )
    error = _refused(*pair)
    assert error.code == "reversed-outline"
    assert "gauge side to the field side" in error.allowed


def test_a_straight_line_needs_no_points_in_between(track: TrackShape) -> None:
    """A drawn cone of few points, or one with a long straight tread, is no outline with a hole."""
    y = np.concatenate((np.arange(-40.0, -30.0, 0.1), [-30.0, 0.0, 60.0]))
    cone = Outline(kind="wheel", y_mm=y, z_mm=0.05 * y)
    few = Outline(
        kind="wheel", y_mm=np.array([-60.0, -20, 20, 60]), z_mm=np.array([-3.0, -1, 1, 3])
    )
    for wheel in (cone, few):
        wheelset = WheelsetShape(
            left=wheel,
            right=wheel,
            left_radius_mm=460.0,
            right_radius_mm=460.0,
            back_to_back_mm=1360.0,
        )
        table = contact_table(wheelset, track, shifts_mm=[-2.0, 0.0, 2.0])
        assert table.rolling_radius_difference_mm[2] == pytest.approx(4.0 * 0.0526, abs=0.001)


def test_a_wheel_that_does_not_stand_on_its_rail(track: TrackShape) -> None:
    y = np.linspace(-30.0, 30.0, 300)
    narrow = Outline(kind="wheel", y_mm=y, z_mm=0.05 * y)
    wheelset = WheelsetShape(
        left=narrow,
        right=narrow,
        left_radius_mm=460.0,
        right_radius_mm=460.0,
        back_to_back_mm=1000.0,
    )
    error = _refused(wheelset, track)
    assert error.code == "no-contact"
    assert "no longer stands over the rail" in error.found


def test_a_metre_gauge_wheelset_on_standard_gauge(
    wheelset: WheelsetShape, track: TrackShape
) -> None:
    assert _refused(replace(wheelset, back_to_back_mm=925.0), track).code == "no-contact"


def test_a_dot_is_no_curve(wheelset: WheelsetShape, track: TrackShape) -> None:
    with pytest.raises(OutlineRefused):
        Outline(kind="rail", y_mm=np.zeros(3), z_mm=np.zeros(3))
    dot = Outline(kind="rail", y_mm=np.zeros(9), z_mm=np.zeros(9))
    error = _refused(wheelset, replace(track, right=dot))
    assert error.code == "too-few-points"


def test_an_unknown_side(wheelset: WheelsetShape, track: TrackShape) -> None:
    table = contact_table(wheelset, track, shifts_mm=[0.0])
    with pytest.raises(ContactRefused) as caught:
        table.side("outer")
    assert caught.value.code == "unknown-side"
    assert "left or right" in caught.value.allowed


@pytest.mark.parametrize("radius", [0.0, math.nan])
def test_a_curve_without_a_radius(
    wheelset: WheelsetShape, track: TrackShape, radius: float
) -> None:
    with pytest.raises(ContactRefused) as caught:
        needed_difference_mm(radius, tape_circle_mm=1500.0, radius_mm=460.0)
    assert caught.value.code == "bad-curve"
    with pytest.raises(ContactRefused):
        steer_curve(steering_reach(contact_table(wheelset, track)), curve_radius_m=radius)


@pytest.mark.parametrize("conicity", [0.0, -0.1, math.nan])
def test_no_wave_without_conicity(conicity: float) -> None:
    with pytest.raises(ContactRefused) as caught:
        wavelength_m(conicity, tape_circle_mm=1500.0, radius_mm=460.0)
    assert caught.value.code == "no-wave"


def test_a_pairing_is_refused_as_its_table_is(wheelset: WheelsetShape, track: TrackShape) -> None:
    with pytest.raises(ContactRefused, match="gauge-too-narrow"):
        pair_up(wheelset, replace(track, gauge_mm=1420.0))
