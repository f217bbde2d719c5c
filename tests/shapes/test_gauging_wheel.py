"""Gauging wheels: definitions, invariance, what is missing and why, and whole wheelsets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tapertread.shapes.alignment import Datum
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Outline
from tapertread.shapes.synthetic import points_of, scaled, shuffled, with_burr, with_gap, with_noise
from tapertread.shapes.traps import Trap
from tapertread.shapes.wheels.aligning import align_wheel
from tapertread.shapes.wheels.gauging import gauge_wheel
from tapertread.shapes.wheels.measures import WheelMeasures
from tapertread.shapes.wheels.readings import Running
from tapertread.shapes.wheels.synthetic import WornWheel, wear_wheel
from tapertread.shapes.wheels.wheelset import Given, gauge_wheelset
from tapertread.units import MM_PER_INCH

S1002 = design_drawing("S1002")
WORN = wear_wheel(S1002, flange_mm=2.0, hollow_mm=1.5, tread_mm=1.0)
FLANGE = (
    "flange_height_mm",
    "flange_thickness_mm",
    "flange_thickness_us_mm",
    "flange_slope_mm",
    "flange_angle_deg",
)


def measures(outline: Outline, *, datum: Datum = "fit", **given: float) -> WheelMeasures:
    cleaned = clean(outline)
    aligned = align_wheel(cleaned, design=S1002, datum=datum)
    return gauge_wheel(aligned, design=S1002, cleaned=cleaned, **given)


def value(one: Measured) -> float:
    assert one.value is not None, one.reason
    return one.value


def same(first: WheelMeasures, second: WheelMeasures, *, within: float) -> None:
    for name, one in first.measured().items():
        other = second.measured()[name].value
        if one.value is None:
            assert other is None
            continue
        allowed = 20.0 * within if name.endswith("_deg") else within
        assert other == pytest.approx(one.value, abs=allowed), name


# ------------------------------------------------------------------ truth and invariance


@pytest.mark.parametrize(
    "worn",
    [
        wear_wheel(S1002),
        WORN,
        wear_wheel(S1002, flange_mm=4.0),
        wear_wheel(S1002, hollow_mm=3.0),
        wear_wheel(S1002, tread_mm=4.0),
    ],
    ids=["new", "all", "thin flange", "hollow", "low tread"],
)
@pytest.mark.parametrize("datum", ["fit", "given"])
def test_measures_of_a_noise_free_wheel_are_its_true_ones(worn: WornWheel, datum: Datum) -> None:
    found = measures(worn.outline, datum=datum).measured()
    for name, true in worn.truth.items():
        assert found[name].value == pytest.approx(true, abs=0.06), name


@given(
    seed=st.integers(0, 99),
    dy_mm=st.floats(-100.0, 100.0),
    dz_mm=st.floats(-100.0, 100.0),
    turn_deg=st.floats(-12.0, 12.0),
)
@settings(max_examples=15, deadline=None)
def test_order_origin_and_tilt_are_no_matter(
    seed: int, dy_mm: float, dz_mm: float, turn_deg: float
) -> None:
    rng = np.random.default_rng(seed)
    moved = WORN.outline.moved(dy_mm=dy_mm, dz_mm=dz_mm, turn_rad=math.radians(turn_deg))
    same(measures(WORN.outline), measures(shuffled(moved, rng)), within=0.02)


def test_units_are_no_matter_once_they_are_converted() -> None:
    """25.4 mm are an inch by definition, so that there and back changes nothing but rounding."""
    inches = scaled(WORN.outline, factor=1.0 / MM_PER_INCH)
    same(measures(WORN.outline), measures(scaled(inches, factor=MM_PER_INCH)), within=1e-6)


@pytest.mark.parametrize("step_mm", [0.1, 0.2, 0.5, 0.8])
def test_the_distance_of_points_hardly_matters(step_mm: float) -> None:
    again = wear_wheel(S1002, flange_mm=2.0, hollow_mm=1.5, tread_mm=1.0, step_mm=step_mm)
    same(measures(WORN.outline), measures(again.outline), within=0.06)


@given(flange_mm=st.floats(0.0, 5.0), hollow_mm=st.floats(0.0, 4.0))
@settings(max_examples=15, deadline=None)
def test_wear_shows_in_its_own_measure(flange_mm: float, hollow_mm: float) -> None:
    worn = wear_wheel(S1002, flange_mm=flange_mm, hollow_mm=hollow_mm)
    found = measures(worn.outline)
    assert value(found.tread_hollow_mm) == pytest.approx(worn.truth["tread_hollow_mm"], abs=0.05)
    assert value(found.flange_thickness_mm) == pytest.approx(
        worn.truth["flange_thickness_mm"], abs=0.06
    )


def test_flange_height_grows_with_tread_wear_and_thickness_counts_from_the_worn_tread() -> None:
    new, low = measures(wear_wheel(S1002).outline), measures(wear_wheel(S1002, tread_mm=3).outline)
    assert value(low.flange_height_mm) - value(new.flange_height_mm) == pytest.approx(3, abs=0.03)
    assert value(low.tread_loss_mm) == pytest.approx(3.0, abs=0.03)
    assert value(low.flange_thickness_mm) > value(new.flange_thickness_mm)


def test_a_rolled_lip_is_what_stands_beyond_the_rim() -> None:
    lipped = with_burr(WORN.outline, size_mm=1.8, length_mm=6.0)
    assert value(measures(lipped).rolled_lip_mm) == pytest.approx(1.8, abs=0.1)
    assert value(measures(WORN.outline).rolled_lip_mm) == pytest.approx(0.0, abs=0.05)


# ------------------------------------------------------------------ readings


def test_the_tip_of_a_circle_is_its_lowest_point() -> None:
    turn = np.linspace(-2.8, -0.3, 400)
    circle = 12.0 * np.column_stack([np.cos(turn), np.sin(turn)]) - [55.0, 16.0]
    tip = Running.of(circle).tip()
    assert tip is not None
    assert tip.z_mm == pytest.approx(-28.0, abs=2e-3)
    assert tip.y_mm == pytest.approx(-55.0, abs=2e-2)


@given(lean_deg=st.floats(55.0, 85.0))
@settings(max_examples=20, deadline=None)
def test_the_angle_of_a_straight_face_is_its_slope(lean_deg: float) -> None:
    lean = math.radians(lean_deg)
    tip = np.column_stack(
        [-56.0 + 6.0 * np.cos(t := np.linspace(-3.0, lean - 0.5 * math.pi, 60)), 6.0 * np.sin(t)]
    )
    z = np.linspace(tip[-1, 1], 25.0, 140)
    face = np.column_stack([tip[-1, 0] + (z - z[0]) / math.tan(lean), z])
    tread_y = np.linspace(face[-1, 0] + 0.2, 60.0, 400)
    tread = np.column_stack([tread_y, np.full(400, 25.2)])
    even = Outline(kind="wheel", y_mm=np.r_[tip[:, 0], face[:, 0], tread[:, 0]],
                   z_mm=np.r_[tip[:, 1], face[:, 1], tread[:, 1]]).resampled(0.1)  # fmt: skip
    found = Running.of(points_of(even)).angle()
    assert found is not None
    assert found.value_deg == pytest.approx(lean_deg, abs=0.5)


# ------------------------------------------------------------------ uncertainty


def test_parts_of_the_uncertainty_are_named_and_add_up() -> None:
    noisy = with_noise(WORN.outline, np.random.default_rng(1), sigma_mm=0.03)
    height = measures(noisy, repeatability_mm=0.04).flange_height_mm
    parts = dict(height.parts)
    assert set(parts) == {"noise", "datum", "sampling", "repeatability"}
    assert parts["repeatability"] == 0.04
    assert height.uncertainty == pytest.approx(math.sqrt(sum(p * p for p in parts.values())))


def test_more_noise_makes_less_sure() -> None:
    calm, loud = (
        measures(with_noise(wear_wheel(S1002).outline, np.random.default_rng(4), sigma_mm=sigma))
        for sigma in (0.01, 0.05)
    )
    for name in FLANGE:
        first, second = calm.measured()[name], loud.measured()[name]
        assert (second.uncertainty or 0.0) > 1.5 * (first.uncertainty or 1.0), name


# ------------------------------------------------------------------ missing, with the reason


def place_mm(outline: Outline, y_mm: float) -> float:
    tip = int(np.argmin(outline.z_mm))
    return float(np.interp(y_mm, outline.y_mm[tip:], outline.arc_mm[tip:]))


def test_a_gap_takes_only_what_stood_in_it() -> None:
    outline = WORN.outline
    tip = float(outline.arc_mm[int(np.argmin(outline.z_mm))])
    found = measures(with_gap(outline, at_mm=tip, length_mm=12.0))
    assert found.flange_height_mm.value is None
    assert "flange tip" in found.flange_height_mm.reason
    assert value(found.flange_thickness_mm) == pytest.approx(
        WORN.truth["flange_thickness_mm"], abs=0.1
    )


def test_a_short_gap_widens_instead() -> None:
    outline = with_gap(WORN.outline, at_mm=place_mm(WORN.outline, 0.0), length_mm=5.0)
    bridged, whole = measures(outline).flange_height_mm, measures(WORN.outline).flange_height_mm
    assert value(bridged) == pytest.approx(value(whole), abs=0.05)
    assert dict(bridged.parts)["sampling"] > dict(whole.parts)["sampling"]


def test_a_gap_at_the_tape_line_may_hide_how_far_the_tread_has_sunk() -> None:
    """A chord of 12 mm over the bottom of a hollow of 20 mm radius misses it by 0.9 mm."""
    found = measures(with_gap(WORN.outline, at_mm=place_mm(WORN.outline, 0.0), length_mm=12.0))
    for name in ("flange_height_mm", "flange_thickness_mm", "flange_slope_mm", "tread_loss_mm"):
        assert found.measured()[name].value is None, name
        assert "tape line" in found.measured()[name].reason, name


def hollowed(*, depth_mm: float, at_mm: float, scale_mm: float) -> Outline:
    """Return a new wheel whose tread is lower by ``depth exp(-((y - at) / scale)²)``."""
    new = design_drawing("S1002").outline(0.1)
    fall = depth_mm * np.exp(-(((new.y_mm - at_mm) / scale_mm) ** 2))
    return new.with_points(new.y_mm, new.z_mm + fall * (new.y_mm > -40.0))


@pytest.mark.parametrize(("first_mm", "last_mm"), [(0.0, 24.0), (4.0, 20.0), (12.0, 16.0)])
def test_a_hollow_is_not_read_across_a_gap(first_mm: float, last_mm: float) -> None:
    """Its bottom may lie in the gap: what is left would say less than half of 2.46 mm."""
    outline = hollowed(depth_mm=3.0, at_mm=12.0, scale_mm=10.0)
    assert value(measures(outline).tread_hollow_mm) == pytest.approx(2.46, abs=0.03)
    seen = (outline.y_mm < first_mm) | (outline.y_mm > last_mm)
    found = measures(outline.with_points(outline.y_mm[seen], outline.z_mm[seen])).tread_hollow_mm
    assert found.value is None
    assert "of the tread" in found.reason


def test_a_gap_of_two_millimetres_hides_no_hollow() -> None:
    outline = with_gap(WORN.outline, at_mm=place_mm(WORN.outline, 15.0), length_mm=2.0)
    assert value(measures(outline).tread_hollow_mm) == pytest.approx(
        WORN.truth["tread_hollow_mm"], abs=0.06
    )


@pytest.mark.parametrize("at_mm", [-60.0, 62.0])
def test_a_gap_elsewhere_leaves_the_hollow(at_mm: float) -> None:
    outline = WORN.outline
    seen = np.abs(outline.y_mm - at_mm) > 2.0
    found = measures(outline.with_points(outline.y_mm[seen], outline.z_mm[seen]))
    assert value(found.tread_hollow_mm) == pytest.approx(WORN.truth["tread_hollow_mm"], abs=0.06)


def test_an_outline_without_tape_line_has_no_flange_measures() -> None:
    found = measures(WORN.outline.cut(-80.0, -8.0))
    for name in ("flange_height_mm", "flange_thickness_mm", "flange_slope_mm", "tread_loss_mm"):
        one = found.measured()[name]
        assert one.value is None, name
        assert one.reason, name


def test_an_outline_without_flange_tells_only_its_hollow() -> None:
    found = measures(WORN.outline.cut(-20.0, 65.0), datum="given")
    assert found.flange_height_mm.value is None
    assert found.flange_angle_deg.value is None
    assert 0.5 < value(found.tread_hollow_mm) < WORN.truth["tread_hollow_mm"]


def test_a_design_without_flange_says_so() -> None:
    drawing = design_drawing("cylinder-no-flange")
    cleaned = clean(drawing.outline(0.3))
    aligned = align_wheel(cleaned, design=drawing)
    found = gauge_wheel(aligned, design=drawing, cleaned=cleaned)
    assert found.flange_height_mm.reason == "this design has no flange"
    assert value(found.tread_hollow_mm) == pytest.approx(0.0, abs=0.02)


def test_rim_thickness_is_only_ever_given() -> None:
    assert measures(WORN.outline).rim_thickness_mm.value is None
    assert "not given" in measures(WORN.outline).rim_thickness_mm.reason
    found = measures(WORN.outline, rim_thickness_mm=41.5, rim_uncertainty_mm=0.3)
    assert found.rim_thickness_mm == Measured.of(41.5, "mm", given=0.3)
    unsure = measures(WORN.outline, rim_thickness_mm=41.5).rim_thickness_mm
    assert (unsure.value, unsure.uncertainty) == (41.5, None)


def test_the_json_twin_carries_every_reason() -> None:
    twin = measures(WORN.outline).to_dict()
    assert twin["rim_thickness_mm"] is None
    assert any("rim_thickness_mm" in str(note) for note in twin["notes"])  # type: ignore[attr-defined]
    for name in FLANGE:
        assert isinstance(twin[name], float)


# ------------------------------------------------------------------ wheelsets

THICK = Measured.of(30.0, "mm", noise=0.05)
GIVEN = Given(value_mm=1360.0, uncertainty_mm=0.1)
DIAMETERS = (Given(value_mm=918.0, uncertainty_mm=0.1), Given(value_mm=919.2, uncertainty_mm=0.1))


def test_active_flange_spacing_is_the_sum_of_the_definition() -> None:
    """SR = AR + Sd left + Sd right: TSI LOC&PAS 4.2.3.5.2.1, recalled."""
    found = gauge_wheelset(thicknesses=(THICK, THICK), diameters=DIAMETERS, back_to_back=GIVEN)
    assert found.active_flange_spacing_mm.value == pytest.approx(1420.0)
    assert found.active_flange_spacing_mm.uncertainty == pytest.approx(
        math.sqrt(0.1**2 + 2 * 0.05**2)
    )


def test_the_diameter_difference_has_a_size_and_a_side() -> None:
    found = gauge_wheelset(thicknesses=(THICK, THICK), diameters=DIAMETERS, back_to_back=GIVEN)
    assert found.diameter_difference_mm.value == pytest.approx(1.2)
    assert found.notes == ("the right wheel is larger by 1.20 mm",)
    assert found.diameter_difference_mm.uncertainty == pytest.approx(math.hypot(0.1, 0.1))


def test_nothing_is_said_of_what_was_not_given() -> None:
    missing = Measured.missing("mm", "the outline does not show the flange face")
    found = gauge_wheelset(
        thicknesses=(THICK, missing), diameters=(DIAMETERS[0], Given()), back_to_back=Given()
    )
    assert all(one.value is None and one.reason for one in found.measured().values())
    twin = found.to_dict()
    assert twin["diameter_difference_mm"] is None
    assert len(twin["notes"]) == 3  # type: ignore[arg-type]


def test_a_number_given_without_its_uncertainty_stays_without() -> None:
    bare = Given(value_mm=1360.0)
    found = gauge_wheelset(thicknesses=(THICK, THICK), diameters=DIAMETERS, back_to_back=bare)
    assert found.active_flange_spacing_mm.value == pytest.approx(1420.0)
    assert found.active_flange_spacing_mm.uncertainty is None
    assert "without its uncertainty" in found.active_flange_spacing_mm.reason


def test_a_worn_back_makes_the_back_to_back_distance_unsure() -> None:
    trap = Trap(name="flange-back-worn", severity="mark", found="1.2 mm", size_mm=1.2)
    found = gauge_wheelset(
        thicknesses=(THICK, THICK), diameters=DIAMETERS, back_to_back=GIVEN, traps=[trap]
    )
    assert dict(found.back_to_back_mm.parts)["trap"] == pytest.approx(1.2 / math.sqrt(3.0))
    assert (found.active_flange_spacing_mm.uncertainty or 0.0) > 0.6
