"""Every trap planted in a wheel is found by its name, and a sound outline has none.

What is planted follows trade practice: scale 0.3 %, datum 0.3 mm, tilt 0.5 degrees, noise that
hangs together over 2 to 5 mm, a section askew, a ball left on (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from tapertread.shapes.alignment import Datum
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.inspect import MeasuredOutline, measure_outline
from tapertread.shapes.outline import Outline
from tapertread.shapes.synthetic import (
    not_square,
    scaled,
    stitched,
    with_ball,
    with_burr,
    with_gap,
    with_glint,
    with_grease,
    with_noise,
    with_outliers,
    with_straight_end,
)
from tapertread.shapes.wheels.surface import hull_of, step_across
from tapertread.shapes.wheels.synthetic import WornWheel, wear_wheel

S1002 = design_drawing("S1002")
NEW = wear_wheel(S1002)
WORN = wear_wheel(S1002, flange_mm=1.5, hollow_mm=1.5, tread_mm=1.0)
WHEELS = {"new": NEW, "worn": WORN}
SPOILT = ("mark", "refuse")


def read(outline: Outline, *, seed: int, sigma_mm: float = 0.02) -> Outline:
    return with_noise(outline, np.random.default_rng(seed), sigma_mm=sigma_mm)


def noisy(outline: Outline, *, seed: int = 1, sigma_mm: float = 0.02) -> Outline:
    return read(outline, seed=seed, sigma_mm=sigma_mm)


def inspected(outline: Outline, *, datum: Datum = "fit") -> MeasuredOutline:
    return measure_outline(outline, kind="wheel", design=S1002, datum=datum)


def arc_at(outline: Outline, *, z_mm: float) -> float:
    """Arc at which the flange face stands at a height."""
    tip = int(np.argmin(outline.z_mm))
    return float(np.interp(z_mm, outline.z_mm[tip:], outline.arc_mm[tip:]))


def back_worn(wheel: WornWheel) -> Outline:
    wear = {"new": {}, "worn": {"flange_mm": 1.5, "hollow_mm": 1.5, "tread_mm": 1.0}}
    mine = next(name for name, one in WHEELS.items() if one is wheel)
    return wear_wheel(S1002, back_mm=1.2, **wear[mine]).outline


Plant = Callable[[WornWheel], Outline]

PLANTED: dict[str, tuple[str, Datum, Plant]] = {
    "ball of 3 mm": (
        "stylus-ball-not-removed",
        "fit",
        lambda w: noisy(with_ball(w.outline, radius_mm=3.0)),
    ),
    "ball of 1 mm": (
        "stylus-ball-not-removed",
        "fit",
        lambda w: noisy(with_ball(w.outline, radius_mm=1.0)),
    ),
    "section 10 degrees askew": (
        "section-not-square",
        "fit",
        lambda w: noisy(not_square(w.outline, angle_rad=math.radians(10.0))),
    ),
    "scale +0.3 %": ("scale-error", "fit", lambda w: noisy(scaled(w.outline, factor=1.003))),
    "scale -0.3 %": ("scale-error", "fit", lambda w: noisy(scaled(w.outline, factor=0.997))),
    "datum 0.3 mm": ("datum-bias", "given", lambda w: noisy(w.outline.moved(dy_mm=0.3))),
    "datum 0.3 mm down": ("datum-bias", "given", lambda w: noisy(w.outline.moved(dz_mm=-0.3))),
    "tilt": ("tilt", "given", lambda w: noisy(w.outline.moved(turn_rad=math.radians(0.5)))),
    "worn back": ("flange-back-worn", "fit", lambda w: noisy(back_worn(w))),
    "stitch on the tread": (
        "stitch-step",
        "fit",
        lambda w: noisy(stitched(w.outline, at_mm=115.0, dy_mm=0.0, dz_mm=0.3)),
    ),
    "glint": (
        "glint",
        "fit",
        lambda w: with_glint(
            noisy(w.outline),
            np.random.default_rng(2),
            at_mm=arc_at(w.outline, z_mm=-8.0),
            length_mm=4.0,
            size_mm=1.5,
        ),
    ),
    "field end made up": (
        "smoothed-or-extrapolated-end",
        "fit",
        lambda w: with_straight_end(noisy(w.outline), end="field", length_mm=5.0),
    ),
    "gauge end made up": (
        "smoothed-or-extrapolated-end",
        "fit",
        lambda w: with_straight_end(noisy(w.outline), end="gauge", length_mm=6.0),
    ),
}

RATE_SEEDS, FEW_SEEDS = range(50, 70), range(50, 53)
LEAST_RATE, LEAST_OF_FEW = 0.75, 0.6
"""Share of readings in which a trap must be named; 20 (or 3) seeds that set no threshold."""

NOTED: dict[str, tuple[str, Plant]] = {
    "burr": ("burr-on-rim", lambda w: noisy(with_burr(w.outline, size_mm=1.5))),
    "outliers": (
        "outliers",
        lambda w: with_outliers(noisy(w.outline), np.random.default_rng(1), count=5, size_mm=2.0),
    ),
    "gap": ("gap", lambda w: noisy(with_gap(w.outline, at_mm=150.0, length_mm=4.0))),
    "correlated noise": ("correlated-noise", lambda w: noisy(w.outline, sigma_mm=0.05)),
    "tilt taken out": ("tilt", lambda w: noisy(w.outline.moved(turn_rad=math.radians(0.5)))),
    "bias taken out": ("datum-bias", lambda w: noisy(w.outline.moved(dy_mm=0.3))),
}


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("planted", PLANTED)
def test_what_spoils_measures_is_found_by_name(planted: str, wheel: str) -> None:
    name, datum, plant = PLANTED[planted]
    found = inspected(plant(WHEELS[wheel]), datum=datum)
    trap = found.trap(name)
    assert trap is not None, [one.name for one in found.traps]
    assert trap.severity in SPOILT
    assert found.trust != "trusted"
    assert trap.name in found.why
    assert any(character.isdigit() for character in trap.found)


@pytest.mark.sweep
@pytest.mark.parametrize("planted", PLANTED)
def test_a_trap_is_named_whatever_the_noise_happens_to_be(
    planted: str, whole_sweeps: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 0.02 mm of noise, on a new and a worn wheel: one lucky seed proves nothing."""
    name, datum, plant = PLANTED[planted]
    named = []
    for seed in RATE_SEEDS if whole_sweeps else FEW_SEEDS:
        monkeypatch.setitem(globals(), "noisy", lambda outline, s=seed: read(outline, seed=s))
        named += [
            inspected(plant(wheel), datum=datum).trap(name) is not None for wheel in WHEELS.values()
        ]
    assert np.mean(named) >= (LEAST_RATE if whole_sweeps else LEAST_OF_FEW)


def greasy(wheel: WornWheel, *, thickness_mm: float, seed: int) -> Outline:
    layer = with_grease(
        wheel.outline,
        at_mm=arc_at(wheel.outline, z_mm=-16.0),
        length_mm=10.0,
        thickness_mm=thickness_mm,
    )
    return read(layer, seed=seed)


@pytest.mark.parametrize("seed", range(50, 56))
@pytest.mark.parametrize("thickness_mm", [0.5, 1.0])
def test_grease_beyond_the_new_face_is_named(thickness_mm: float, seed: int) -> None:
    found = inspected(greasy(NEW, thickness_mm=thickness_mm, seed=seed))
    trap = found.trap("grease")
    assert trap is not None
    assert trap.severity == "mark"
    assert trap.size_mm == pytest.approx(thickness_mm, rel=0.25)


def test_grease_on_a_deeply_worn_face_is_a_known_blind_spot() -> None:
    """A layer that stays inside the new drawing reads as less wear; nothing may claim otherwise.

    Its bump is no larger than the hollow that sound worn faces show, so that no threshold tells
    them apart. This test fails on the day when it is told: then say so in the docs.
    """
    thin = wear_wheel(S1002, flange_mm=3.0, hollow_mm=1.5, tread_mm=1.0)
    for seed in range(50, 54):
        assert inspected(greasy(thin, thickness_mm=1.0, seed=seed)).trap("grease") is None


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("planted", NOTED)
def test_what_was_dealt_with_is_noted(planted: str, wheel: str) -> None:
    name, plant = NOTED[planted]
    found = inspected(plant(WHEELS[wheel]))
    trap = found.trap(name)
    assert trap is not None
    assert trap.severity == "note"
    assert found.trust == "trusted"


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("seed", range(8))
def test_sound_outlines_are_trusted(wheel: str, seed: int) -> None:
    outline = noisy(WHEELS[wheel].outline, seed=seed, sigma_mm=0.01 + 0.004 * seed)
    found = inspected(outline.moved(dy_mm=20.0, turn_rad=0.03))
    assert found.trust == "trusted", found.why
    assert not found.why


@pytest.mark.parametrize("wheel", WHEELS)
@pytest.mark.parametrize("planted", PLANTED)
def test_a_marked_measure_is_widened_enough_or_withheld(planted: str, wheel: str) -> None:
    """Twice the stated standard uncertainty holds the truth of thickness and height."""
    name, datum, plant = PLANTED[planted]
    found = inspected(plant(WHEELS[wheel]), datum=datum).measures.measured()
    for measure in ("flange_thickness_mm", "flange_height_mm"):
        one = found[measure]
        if one.value is not None:
            true = WHEELS[wheel].truth[measure]
            assert abs(one.value - true) < max(0.15, one.expanded or 0.0), (name, measure)


def test_sizes_are_those_planted() -> None:
    sizes = {
        "worn back": 1.2,
        "datum 0.3 mm": 0.3,
        "stitch on the tread": 0.3,
        "ball of 3 mm": 3.0,
        "tilt": math.radians(0.5) * 70.0,
    }
    for planted, size in sizes.items():
        name, datum, plant = PLANTED[planted]
        trap = inspected(plant(NEW), datum=datum).trap(name)
        assert trap is not None
        assert trap.size_mm == pytest.approx(size, rel=0.25), planted


def test_thickness_is_not_spoilt_by_a_worn_back() -> None:
    found = inspected(noisy(back_worn(WORN)))
    trap = found.trap("flange-back-worn")
    assert trap is not None
    assert {"back_to_back_mm", "active_flange_spacing_mm"} <= set(trap.spoils)
    thickness = found.measures.measured()["flange_thickness_mm"].value
    assert thickness == pytest.approx(WORN.truth["flange_thickness_mm"], abs=0.15)


def with_flange_of(height_mm: float) -> Outline:
    """Return an S1002 whose flange, from 10 mm below the tread down, is drawn to another height."""
    new = S1002.outline(0.2)
    flange = (new.y_mm < -35.0) & (new.z_mm < -10.0)
    drawn = (height_mm - 10.0) / (-float(new.z_mm.min()) - 10.0)
    return new.with_points(new.y_mm, np.where(flange, -10.0 + (new.z_mm + 10.0) * drawn, new.z_mm))


@pytest.mark.parametrize(
    "outline",
    [
        with_flange_of(22.0),
        with_flange_of(30.0),
        design_drawing("freight-1-20").outline(0.2),
        design_drawing("cylinder").outline(0.2),
    ],
    ids=["flange of 22 mm", "flange of 30 mm", "freight", "cylinder"],
)
def test_a_wheel_of_another_design_is_no_fault_of_the_device(outline: Outline) -> None:
    found = inspected(noisy(outline))
    assert found.trust == "refused"
    assert [trap.name for trap in found.traps if trap.severity == "refuse"] == ["another-design"]
    assert found.trap("stylus-ball-not-removed") is None
    assert "--design" in found.why


@pytest.mark.parametrize("planted", PLANTED)
def test_faults_of_the_device_are_no_other_design(planted: str) -> None:
    _, datum, plant = PLANTED[planted]
    for wheel in WHEELS.values():
        assert inspected(plant(wheel), datum=datum).trap("another-design") is None


def test_a_flange_back_that_was_not_seen_is_said_to_be_the_designs() -> None:
    """Cut on the gauge side: the face is there, but not what thickness counts from."""
    found = inspected(noisy(NEW.outline.cut(-52.0, 80.0)))
    trap = found.trap("flange-back-not-seen")
    assert trap is not None
    assert trap.severity == "mark"
    assert "flange_thickness_mm" in trap.spoils
    assert found.trust == "marked"
    assert any("back was not seen" in note for note in found.measures.notes)
    assert "flange back" not in found.aligned.across.by
    assert inspected(noisy(NEW.outline)).trap("flange-back-not-seen") is None


def test_what_one_outline_cannot_show_is_not_claimed() -> None:
    """A scale error on an outline that ends before the rim: nothing tells it from another shape."""
    short = noisy(scaled(WORN.outline, factor=1.003)).cut(-80.0, 40.0)
    found = inspected(short)
    assert found.trap("scale-error") is None
    assert found.trap("section-not-square") is None


@pytest.mark.parametrize("radius_mm", [13.0, 60.0, 1e6])
def test_circles_and_lines_have_no_step(radius_mm: float) -> None:
    turn = np.arange(0.0, 20.0 / radius_mm, 0.2 / radius_mm)
    circle = radius_mm * np.column_stack([np.sin(turn), 1.0 - np.cos(turn)])
    assert np.abs(step_across(circle, side=6, skip=1)).max() < 1e-9


def test_a_step_has_its_height() -> None:
    y = np.arange(0.0, 20.0, 0.2)
    line = np.column_stack([y, 0.05 * y + 0.3 * (y > 10.0)])
    assert np.abs(step_across(line, side=6, skip=1)).max() == pytest.approx(0.3, rel=0.05)


def test_the_hull_is_that_of_scipy() -> None:
    from scipy.spatial import ConvexHull  # noqa: PLC0415

    rng = np.random.default_rng(0)
    y = np.sort(rng.uniform(0.0, 10.0, 60))
    z = np.sin(y) + rng.uniform(-0.2, 0.2, 60)
    points = np.column_stack([y, z])
    lower = hull_of(points)
    assert set(lower) <= set(ConvexHull(points).vertices.tolist())
    assert lower[0] == 0
    assert lower[-1] == 59


def test_cleaning_alone_names_what_it_met() -> None:
    names = {trap.name for trap in clean(NOTED["gap"][1](NEW)).traps}
    assert "gap" in names
