"""The whole chain of one outline, wheel and rail: what it returns, and how far it is trusted."""

from __future__ import annotations

import json
import time

import numpy as np
import pytest

from tapertread.shapes.designs import design, design_drawing
from tapertread.shapes.inspect import Alongside, MeasuredOutline, measure_outline
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.synthetic import not_square, with_ball, with_noise
from tapertread.shapes.wheels.synthetic import wear_wheel

S1002 = design_drawing("S1002")
WORN = wear_wheel(S1002, flange_mm=2.0, hollow_mm=1.0)
NOISY = with_noise(WORN.outline, np.random.default_rng(0), sigma_mm=0.02)


@pytest.fixture(scope="module")
def wheel() -> MeasuredOutline:
    return measure_outline(NOISY, kind="wheel", design=S1002)


@pytest.fixture(scope="module")
def rail() -> MeasuredOutline:
    outline = with_noise(design("60E1", step_mm=0.3), np.random.default_rng(1), sigma_mm=0.02)
    return measure_outline(outline, kind="rail", design=design_drawing("60E1"))


def test_a_wheel_comes_out_measured_and_ready_for_contact(wheel: MeasuredOutline) -> None:
    assert wheel.trust == "trusted"
    assert wheel.raw is NOISY
    assert wheel.outline.kind == "wheel"
    assert wheel.outline.z_mm.min() == pytest.approx(-WORN.truth["flange_height_mm"], abs=0.15)
    assert (np.diff(wheel.outline.arc_mm) > 0.0).all()


def test_a_rail_goes_the_same_way(rail: MeasuredOutline) -> None:
    assert rail.outline.kind == "rail"
    assert rail.outline.z_mm.max() == pytest.approx(0.0, abs=0.3)
    assert {"side_wear_mm", "gauge_face_angle_deg"} <= set(rail.measures.measured())


@pytest.mark.parametrize("which", ["wheel", "rail"])
def test_the_json_twin_is_strict(which: str, request: pytest.FixtureRequest) -> None:
    found: MeasuredOutline = request.getfixturevalue(which)
    text = json.dumps(found.to_dict(), allow_nan=False)
    twin = json.loads(text)
    assert set(twin["alignment"]["held"]) == {"across", "up", "turn"}
    assert twin["trust"] == found.trust
    assert twin["cleaning"]["steps"]
    for name in found.measures.measured():
        assert name in twin


def test_a_raw_outline_brings_what_its_recipe_knew() -> None:
    raw = RawOutline(
        outline=with_ball(NOISY, radius_mm=2.0),
        asset="W1",
        side="left",
        stylus_radius_mm=2.0,
        repeatability_mm=0.05,
    )
    found = measure_outline(raw, kind="wheel", design=S1002)
    assert found.trust == "trusted"
    height = found.measures.measured()["flange_height_mm"]
    assert dict(height.parts)["repeatability"] == 0.05
    assert height.value == pytest.approx(WORN.truth["flange_height_mm"], abs=0.15)


def test_what_is_said_alongside_wins() -> None:
    raw = RawOutline(outline=NOISY, asset="W1", side="left", repeatability_mm=0.5)
    found = measure_outline(
        raw,
        kind="wheel",
        design=S1002,
        alongside=Alongside(rim_thickness_mm=44.0, rim_uncertainty_mm=0.2),
    )
    every = found.measures.measured()
    assert "repeatability" not in dict(every["flange_height_mm"].parts)
    assert every["rim_thickness_mm"].value == 44.0


@pytest.mark.parametrize("kind", ["wheel", "rail"])
def test_how_surely_a_files_origin_holds_is_not_known(kind: str) -> None:
    """Nobody measured it: it is not zero, in no uncertainty, and the reader is told."""
    name = {"wheel": "S1002", "rail": "60E1"}[kind]
    outline = with_noise(design(name, step_mm=0.3), np.random.default_rng(2), sigma_mm=0.02)
    raw = RawOutline(outline=outline, asset="A1", side="left")
    found = measure_outline(raw, kind=outline.kind, design=design_drawing(name), datum="given")
    twin = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    held = twin["alignment"]["held"]
    for freedom in ("across", "turn"):
        assert held[freedom]["by"] == "the file's origin"
        assert held[freedom]["uncertainty"] is None
        assert "repeatability" in held[freedom]["reason"]
    of_origin = {"wheel": "flange_thickness_mm", "rail": "side_wear_mm"}[kind]
    assert "--repeatability" in twin["measured"][of_origin]["reason"]
    assert "datum" not in twin["measured"][of_origin]["parts"]
    stated = measure_outline(
        raw,
        kind=outline.kind,
        design=design_drawing(name),
        datum="given",
        alongside=Alongside(repeatability_mm=0.1),
    ).measures.measured()[of_origin]
    assert not stated.reason
    assert dict(stated.parts)["repeatability"] == 0.1


def test_a_mark_widens_what_it_spoils_and_nothing_else() -> None:
    skew = not_square(NOISY, angle_rad=0.17)
    found = measure_outline(skew, kind="wheel", design=S1002)
    assert found.trust == "marked"
    trap = found.trap("section-not-square")
    assert trap is not None
    for name, one in found.measures.measured().items():
        spoilt = name in trap.spoils and one.unit == "mm"
        assert ("trap" in dict(one.parts)) == spoilt or one.value is None, name


def test_there_is_no_trap_of_another_name(wheel: MeasuredOutline) -> None:
    assert wheel.trap("kilometre-drift") is None


def test_measuring_a_wheel_is_quick() -> None:
    """A survey of some 400 outlines has 20 s for everything; the bound allows a busy machine."""
    best = min(_seconds() for _ in range(5))
    assert best < 0.04


def _seconds() -> float:
    start = time.perf_counter()
    measure_outline(NOISY, kind="wheel", design=S1002)
    return time.perf_counter() - start
