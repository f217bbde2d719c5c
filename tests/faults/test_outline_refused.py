"""Outlines that are none: each is refused by name, with what was found, allowed and to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString

from tapertread.errors import OutlineRefused
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.designs import design, design_drawing
from tapertread.shapes.inspect import Alongside, measure_outline
from tapertread.shapes.outline import Outline
from tapertread.shapes.synthetic import (
    mirrored,
    points_of,
    scaled,
    with_ball,
    with_loop,
    with_noise,
)

WHEEL = design("S1002", step_mm=0.3)
RAIL = design("60E1", step_mm=0.3)


def upside_down(outline: Outline) -> Outline:
    return outline.with_points(outline.y_mm, -outline.z_mm)


def as_kind(outline: Outline, kind: str) -> Outline:
    return replace(outline, kind=kind)  # type: ignore[arg-type]


def first(outline: Outline, count: int) -> Outline:
    return outline.with_points(outline.y_mm[:count], outline.z_mm[:count])


def folded(outline: Outline) -> Outline:
    """Return the outline with 20 mm of its tread run forth, back 6 mm higher, and forth again."""
    y, z = outline.y_mm, outline.z_mm
    tip = int(np.argmin(z))
    first, last = (tip + int(np.searchsorted(y[tip:], place)) for place in (5.0, 25.0))
    back = slice(first, last)
    return outline.with_points(
        np.concatenate((y[:last], y[back][::-1], y[first:])),
        np.concatenate((z[:last], z[back][::-1] + 6.0, z[first:])),
    )


def noisy(outline: Outline) -> Outline:
    return with_noise(outline, np.random.default_rng(3), sigma_mm=0.03)


CASES: dict[str, tuple[str, Callable[[], Outline]]] = {
    "wheel in inches": ("wrong-unit", lambda: scaled(WHEEL, factor=1.0 / 25.4)),
    "flange of 1 m": ("wrong-unit", lambda: scaled(WHEEL, factor=36.0)),
    "wheel in micrometres": ("wrong-unit", lambda: scaled(WHEEL, factor=1000.0)),
    "rail in metres": ("wrong-unit", lambda: scaled(RAIL, factor=1e-3)),
    "mirrored wheel": ("mirrored-outline", lambda: mirrored(WHEEL)),
    "mirrored noisy wheel": ("mirrored-outline", lambda: mirrored(noisy(WHEEL))),
    "flange up": ("mirrored-outline", lambda: upside_down(WHEEL)),
    "rail head down": ("mirrored-outline", lambda: upside_down(RAIL)),
    "wheel as rail": ("wrong-kind", lambda: as_kind(WHEEL, "rail")),
    "noisy wheel as rail": ("wrong-kind", lambda: as_kind(noisy(WHEEL), "rail")),
    "wheel upside down as rail": ("wrong-kind", lambda: as_kind(upside_down(WHEEL), "rail")),
    "rail as wheel": ("wrong-kind", lambda: as_kind(RAIL, "wheel")),
    "loop of 3 mm": ("self-crossing", lambda: with_loop(WHEEL, at_mm=140.0, radius_mm=3.0)),
    "loop on the flange": ("self-crossing", lambda: with_loop(WHEEL, at_mm=60.0, radius_mm=2.5)),
    "folded tread": ("self-crossing", lambda: folded(WHEEL)),
    "noisy folded tread": ("self-crossing", lambda: noisy(folded(WHEEL))),
    "finely folded tread": ("self-crossing", lambda: folded(design("S1002", step_mm=0.1))),
    "ten points": ("too-few-points", lambda: first(WHEEL, 10)),
    "a straight line": (
        "straight-line",
        lambda: WHEEL.with_points(np.linspace(0.0, 100.0, 30) ** 1.05, np.zeros(30)),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_refused_by_name(case: str) -> None:
    code, make = CASES[case]
    with pytest.raises(OutlineRefused) as refusal:
        clean(make())
    assert refusal.value.code == code
    assert refusal.value.found
    assert refusal.value.allowed
    assert refusal.value.todo


def test_shapely_agrees_that_the_loops_cross() -> None:
    for case in ("loop of 3 mm", "loop on the flange"):
        assert not LineString(points_of(CASES[case][1]())).is_simple


def test_a_unit_that_would_fit_is_named() -> None:
    with pytest.raises(OutlineRefused, match="inches"):
        clean(scaled(WHEEL, factor=1.0 / 25.4))


def test_a_refusal_tells_the_place_of_a_crossing() -> None:
    with pytest.raises(OutlineRefused, match=r"y = -?\d+\.\d mm, z = -?\d+\.\d mm"):
        clean(with_loop(WHEEL, at_mm=140.0, radius_mm=3.0))


@pytest.mark.parametrize(
    ("y", "code"),
    [(np.arange(3.0), "too-few-points"), (np.array([0.0, np.nan, 2.0, 3.0, 4.0]), "not-finite")],
)
def test_outlines_need_points_that_are_numbers(y: np.ndarray, code: str) -> None:
    with pytest.raises(OutlineRefused) as refusal:
        Outline(kind="wheel", y_mm=y, z_mm=y)
    assert refusal.value.code == code


def test_a_cloud_of_points_is_no_outline() -> None:
    cloud = np.random.default_rng(0).uniform(-60.0, 60.0, (300, 2))
    with pytest.raises(OutlineRefused):
        measure_outline(WHEEL.with_points(*cloud.T), kind="wheel", design=design_drawing("S1002"))


def test_kind_outline_and_design_must_agree() -> None:
    for kind, outline, name in (
        ("rail", WHEEL, "60E1"),
        ("wheel", WHEEL, "60E1"),
        ("wheel", RAIL, "S1002"),
        ("rail", WHEEL, "S1002"),
    ):
        with pytest.raises(OutlineRefused) as refusal:
            measure_outline(outline, kind=kind, design=design_drawing(name))  # type: ignore[arg-type]
        assert refusal.value.code == "wrong-kind"


def test_a_ball_left_on_is_refused_and_no_measure_given() -> None:
    """Its thickness would be too large by twice the radius: on the unsafe side."""
    outline = noisy(with_ball(WHEEL, radius_mm=3.0))
    found = measure_outline(outline, kind="wheel", design=design_drawing("S1002"))
    assert found.trust == "refused"
    for name, one in found.measures.measured().items():
        assert one.value is None, name
        assert "refused" in one.reason or name == "rim_thickness_mm"
    named = measure_outline(
        outline,
        kind="wheel",
        design=design_drawing("S1002"),
        alongside=Alongside(stylus_radius_mm=3.0),
    )
    assert named.trust == "trusted"


@pytest.mark.parametrize(
    "outline", [WHEEL, RAIL, noisy(WHEEL), noisy(RAIL)], ids=["wheel", "rail", "w-noisy", "r-noisy"]
)
@pytest.mark.parametrize("turn_deg", [-12.0, 0.0, 12.0])
def test_sound_outlines_are_not_refused(outline: Outline, turn_deg: float) -> None:
    assert clean(outline.moved(dy_mm=300.0, dz_mm=-90.0, turn_rad=np.radians(turn_deg)))


def test_parts_too_small_to_tell_their_kind_are_let_through() -> None:
    tread = WHEEL.cut(-20.0, 60.0)
    assert clean(tread)
    assert clean(as_kind(RAIL.cut(-30.0, 30.0), "wheel"))
