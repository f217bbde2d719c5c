"""Every trap planted is found by its name, and a sound outline has none."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tapertread.shapes.alignment import Datum
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.cleaning.noise import Noise, NoisePart
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.inspect import measure_outline
from tapertread.shapes.outline import Outline
from tapertread.shapes.rails.aligning import align_rail, lay_on_design
from tapertread.shapes.rails.drift import kilometre_drift
from tapertread.shapes.rails.gauging import gauge_rail
from tapertread.shapes.rails.traps import rail_traps, widened_by
from tapertread.shapes.synthetic import mirrored
from tapertread.shapes.traps import Trap

QUIET = Noise(parts=(NoisePart(variance_mm2=0.02**2, length_mm=3.0),))
MARKS = ("mark", "refuse")


@pytest.fixture(scope="module")
def worn(worn_rail: Callable[..., Any]) -> Outline:
    outline: Outline = worn_rail(
        vertical_mm=2.0, side_mm=4.0, extent="head and web", step_mm=0.3
    ).outline
    return outline


@pytest.fixture(scope="module")
def noisy(worn: Outline, with_rail_noise: Callable[..., Outline]) -> Outline:
    return with_rail_noise(worn, seed=3, sigma_mm=0.02)


@pytest.fixture
def traps_in(rail_60e1: Drawing) -> Callable[..., dict[str, Trap]]:
    def find(outline: Outline, datum: Datum = "fit") -> dict[str, Trap]:
        cleaned = clean(outline)
        aligned = align_rail(cleaned, design=rail_60e1, datum=datum)
        return {
            trap.name: trap
            for trap in rail_traps(aligned, cleaned=cleaned, design=rail_60e1)
            if trap.severity in MARKS
        }

    return find


def outward(outline: Outline, by_mm: np.ndarray) -> Outline:
    ty = np.gradient(outline.y_mm, outline.arc_mm)
    tz = np.gradient(outline.z_mm, outline.arc_mm)
    size = np.hypot(ty, tz)
    return outline.with_points(outline.y_mm - by_mm * tz / size, outline.z_mm + by_mm * ty / size)


@pytest.mark.parametrize("seed", [3, 4, 5])
@pytest.mark.parametrize("side_mm", [0.0, 4.0])
def test_a_sound_outline_has_no_mark(
    worn_rail: Callable[..., Any],
    with_rail_noise: Callable[..., Outline],
    traps_in: Callable[..., dict[str, Trap]],
    seed: int,
    side_mm: float,
) -> None:
    outline = worn_rail(
        vertical_mm=2.0, side_mm=side_mm, extent="head and web", step_mm=0.3
    ).outline
    assert traps_in(with_rail_noise(outline, seed=seed, sigma_mm=0.02)) == {}


def test_a_lip_is_found_and_spoils_the_gauge_side(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    lip = np.where(noisy.y_mm < 0.0, np.exp(-0.5 * ((noisy.z_mm + 20.0) / 0.8) ** 2), 0.0)
    traps = traps_in(outward(noisy, lip))
    assert set(traps) == {"lip-on-gauge-corner"}
    found = traps["lip-on-gauge-corner"]
    assert found.size_mm == pytest.approx(1.0, abs=0.25)
    assert "side_wear_mm" in found.spoils
    assert "vertical_wear_mm" not in found.spoils


def test_grease_is_found_where_it_lies_in_a_lump(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    lump = np.where(noisy.y_mm < 0.0, 1.2 * np.exp(-0.5 * ((noisy.z_mm + 15.0) / 2.0) ** 2), 0.0)
    assert set(traps_in(outward(noisy, lump))) <= {"grease", "lip-on-gauge-corner"}
    assert traps_in(outward(noisy, lump))


def test_an_even_film_of_grease_cannot_be_seen_and_is_not_claimed(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    """It reads as less wear; the module says so."""
    on_face = np.clip((-noisy.z_mm - 4.0) / 6.0, 0.0, 1.0)
    film = np.where(noisy.y_mm < -20.0, 0.2 * on_face, 0.0)
    assert traps_in(outward(noisy, film)) == {}


def test_glint_scatters_the_gauge_corner(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    corner = (noisy.y_mm < -20.0) & (noisy.z_mm > -12.0) & (noisy.z_mm < -3.0)
    scatter = np.random.default_rng(0).standard_normal(noisy.y_mm.size) * 0.25 * corner
    assert "glint" in traps_in(outward(noisy, scatter))


@pytest.mark.parametrize("step_mm", [0.3, -0.4])
def test_a_step_between_two_sensors(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]], step_mm: float
) -> None:
    lifted = noisy.with_points(noisy.y_mm, noisy.z_mm + np.where(noisy.y_mm > 3.0, step_mm, 0.0))
    found = traps_in(lifted)
    assert set(found) == {"stitch-step"}
    assert found["stitch-step"].size_mm == pytest.approx(abs(step_mm), abs=0.1)


def test_two_sensors_apart_across_show_in_the_web(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    apart = noisy.with_points(noisy.y_mm + np.where(noisy.y_mm > 0.0, 0.5, 0.0), noisy.z_mm)
    assert "stitch-step" in traps_in(apart)


def test_tilt_of_half_a_degree(noisy: Outline, traps_in: Callable[..., dict[str, Trap]]) -> None:
    tilted = noisy.moved(turn_rad=math.radians(0.5))
    assert "0.5" in traps_in(tilted, "given")["tilt"].found
    assert traps_in(tilted, "fit") == {}


@pytest.mark.parametrize("shift", [(0.3, 0.0), (0.0, -0.3), (0.3, 0.3)])
def test_a_datum_bias_shows_against_the_unworn_parts(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]], shift: tuple[float, float]
) -> None:
    biased = noisy.moved(dy_mm=shift[0], dz_mm=shift[1])
    assert "datum-bias" in traps_in(biased, "given")
    assert "datum-bias" not in traps_in(noisy, "given")


def test_an_inclination_about_to_be_applied_twice(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    leaning = noisy.moved(turn_rad=math.atan(1.0 / 40.0))
    assert "applied twice" in traps_in(leaning)["tilt"].found
    assert traps_in(replace(leaning, frame="track-plane")) == {}
    upright = replace(noisy, frame="track-plane")
    assert "inclination is missing" in traps_in(upright)["tilt"].found


def test_a_ball_not_taken_off_makes_everything_thicker(worn: Outline, rail_60e1: Drawing) -> None:
    swollen = outward(worn, np.full(worn.y_mm.size, 1.0))
    aligned = lay_on_design(swollen, design=rail_60e1, noise=QUIET)
    (found,) = [trap for trap in aligned.traps if trap.name == "stylus-ball-not-removed"]
    assert found.size_mm == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(("scale", "seen"), [(1.003, True), (0.997, True), (1.0, False)])
def test_a_scale_error_shows_where_head_web_and_foot_are_seen(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, scale: float, seen: bool
) -> None:
    whole: Outline = worn_rail(vertical_mm=1.0, side_mm=2.0, extent="whole").outline
    scaled = whole.with_points(whole.y_mm * scale, whole.z_mm * scale)
    aligned = lay_on_design(scaled, design=rail_60e1, noise=QUIET)
    assert ("scale-error" in [trap.name for trap in aligned.traps]) == seen


def test_a_scale_error_that_cannot_be_seen_is_said_to_be(
    noisy: Outline, rail_60e1: Drawing
) -> None:
    scaled = noisy.with_points(noisy.y_mm * 1.003, noisy.z_mm * 1.003)
    aligned = lay_on_design(scaled, design=rail_60e1, noise=QUIET)
    assert "scale-error" not in [trap.name for trap in aligned.traps]
    assert any("not detectable" in note and "a scale error" in note for note in aligned.notes)


def test_a_section_not_square_is_stretched_across(worn: Outline, rail_60e1: Drawing) -> None:
    """10° off square: 1/cos stretches the head by 1.5 %."""
    stretched = worn.with_points(worn.y_mm / math.cos(math.radians(10.0)), worn.z_mm)
    aligned = lay_on_design(stretched, design=rail_60e1, noise=QUIET)
    found = " ".join(trap.found for trap in aligned.traps if trap.severity in MARKS)
    assert "not square" in found
    assert "+1.5" in found


def test_a_head_alone_says_that_faults_of_size_cannot_be_seen(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    head: Outline = worn_rail(vertical_mm=1.0, side_mm=2.0, extent="head").outline
    scaled = head.with_points(head.y_mm * 1.003, head.z_mm * 1.003)
    aligned = lay_on_design(scaled, design=rail_60e1, noise=QUIET)
    assert [trap.name for trap in aligned.traps] == []
    assert any("any fault of scale" in note for note in aligned.notes)


def test_polish_throws_single_points_off_the_corner(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    """Six single points thrown out of the gauge corner: left out, and the corner marked."""
    corner = np.flatnonzero((noisy.y_mm < -20.0) & (noisy.z_mm > -14.0) & (noisy.z_mm < -4.0))
    thrown = np.zeros(noisy.y_mm.size)
    thrown[corner[:: max(1, corner.size // 6)][:6]] = 1.5
    found = traps_in(outward(noisy, thrown))
    assert set(found) == {"glint"}
    assert "left out" in found["glint"].found


def test_a_ledge_left_by_flange_tips_is_no_lip(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    """A face worn in ever more toward 29 mm below the worn top, where the flange tips end."""
    deeper = 0.8 * np.clip((-noisy.z_mm - 8.0) / 23.0, 0.0, 1.0)
    worn_in = np.where((noisy.y_mm < 0.0) & (noisy.z_mm > -31.0), deeper, 0.0)
    assert traps_in(outward(noisy, -worn_in)) == {}


def test_swapped_sides_show_a_worn_field_corner(
    noisy: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    swapped = noisy.with_points(-noisy.y_mm[::-1], noisy.z_mm[::-1])
    assert "sides-swapped" in traps_in(swapped)


def side_worn(rail: Drawing, *, by_mm: float) -> Outline:
    """Return a new rail whose gauge face has gone in evenly from 12 to 30 mm below its top."""
    outline = rail.outline(0.1)
    share = np.clip((-outline.z_mm - 2.0) / 10.0, 0.0, 1.0)
    share *= np.clip((38.0 + outline.z_mm) / 8.0, 0.0, 1.0)
    return outline.with_points(outline.y_mm + by_mm * share * (outline.y_mm < -20.0), outline.z_mm)


@pytest.mark.parametrize("datum", ["fit", "given"])
def test_a_worn_rail_the_wrong_way_round_is_refused(rail_60e1: Drawing, datum: Datum) -> None:
    """A head alone: its worn gauge face lies where the field flank belongs and would hold it."""
    head = side_worn(rail_60e1, by_mm=4.0)
    right = measure_outline(head, kind="rail", design=rail_60e1, datum=datum)
    wrong = measure_outline(mirrored(head), kind="rail", design=rail_60e1, datum=datum)
    assert right.trap("mirrored-outline") is None
    assert right.measures.measured()["side_wear_mm"].value == pytest.approx(4.0, abs=0.05)
    assert wrong.trust == "refused"
    assert "mirrored-outline" in wrong.why
    assert all(one.value is None for one in wrong.measures.measured().values())


@pytest.mark.parametrize("face_deg", [66.0, 70.0, 80.0, 85.0])
@pytest.mark.parametrize("side_mm", [2.0, 4.0])
def test_a_worn_rail_with_a_web_is_never_trusted_the_wrong_way_round(
    worn_rail: Callable[..., Any],
    with_rail_noise: Callable[..., Outline],
    rail_60e1: Drawing,
    side_mm: float,
    face_deg: float,
) -> None:
    worn = worn_rail(side_mm=side_mm, face_deg=face_deg, extent="head and web", step_mm=0.3)
    noisy = with_rail_noise(worn.outline, seed=3, sigma_mm=0.02)
    assert measure_outline(noisy, kind="rail", design=rail_60e1).trust == "trusted"
    wrong = measure_outline(mirrored(noisy), kind="rail", design=rail_60e1)
    assert wrong.trap("sides-swapped") or wrong.trap("mirrored-outline")


def both_sides_worn(rail: Drawing, *, by_mm: float) -> Outline:
    outline = rail.outline(0.1)
    share = np.clip((-outline.z_mm - 2.0) / 10.0, 0.0, 1.0)
    share *= np.clip((38.0 + outline.z_mm) / 8.0, 0.0, 1.0)
    return outline.with_points(outline.y_mm - by_mm * share * np.sign(outline.y_mm), outline.z_mm)


def test_a_rail_whose_unworn_parts_disagree_has_no_measures(rail_60e1: Drawing) -> None:
    """Worn by 4 mm on both sides it would read 8.1 mm: the datum itself is gone."""
    worn = both_sides_worn(rail_60e1, by_mm=4.0)
    found = measure_outline(worn, kind="rail", design=rail_60e1)
    assert found.trust == "refused"
    assert "another-design" in found.why
    assert "% of the unworn parts agree" in found.why
    aligned = align_rail(clean(worn), design=rail_60e1)
    assert not any(one.anchored for one in (aligned.across, aligned.up, aligned.turn))
    assert aligned.turn_rad == 0.0


@pytest.mark.parametrize("name", ["60E1", "54E1", "136RE-10"])
def test_an_exact_drawing_has_no_made_up_ends(name: str) -> None:
    """Its flanks are straight by design; nothing in it scatters."""
    drawing = design_drawing(name)
    found = measure_outline(drawing.outline(0.1), kind="rail", design=drawing)
    assert found.trap("smoothed-or-extrapolated-end") is None
    assert found.trust == "trusted", found.why


def test_an_end_without_noise_was_made_up(
    noisy: Outline, worn: Outline, traps_in: Callable[..., dict[str, Trap]]
) -> None:
    made_up = noisy.arc_mm < 8.0
    outline = noisy.with_points(
        np.where(made_up, worn.y_mm, noisy.y_mm), np.where(made_up, worn.z_mm, noisy.z_mm)
    )
    assert "smoothed-or-extrapolated-end" in traps_in(outline)


def test_marked_traps_widen_what_they_spoil(noisy: Outline, rail_60e1: Drawing) -> None:
    aligned = lay_on_design(noisy, design=rail_60e1, noise=QUIET)
    measures = gauge_rail(aligned, design=rail_60e1, noise_mm=0.02, correlation_mm=3.0)
    trap = Trap(name="grease", severity="mark", found="", spoils=("side_wear_mm",), size_mm=0.9)
    wider = widened_by(measures, (trap,))
    assert wider.side_wear_mm.value == measures.side_wear_mm.value
    assert dict(wider.side_wear_mm.parts)["trap"] == pytest.approx(0.9 / math.sqrt(3.0))
    assert wider.vertical_wear_mm == measures.vertical_wear_mm
    assert widened_by(measures, (replace(trap, severity="note"),)) == measures


def pattern(km: np.ndarray) -> np.ndarray:
    """Wear along an invented line: curves here and there."""
    return sum(
        size * np.exp(-0.5 * ((km - place) / 0.3) ** 2)
        for size, place in ((4.0, 1.2), (7.0, 3.1), (2.0, 4.4), (5.0, 6.9), (3.0, 8.2))
    )


@pytest.mark.parametrize("shift_km", [0.0, 0.12, -0.21])
def test_drifting_kilometres_are_found(shift_km: float) -> None:
    rng = np.random.default_rng(8)
    km_a = np.arange(0.0, 10.0, 0.1)
    km_b = km_a + shift_km
    measure_a = pattern(km_a) + 0.1 * rng.standard_normal(km_a.size)
    measure_b = 1.2 * pattern(km_b - shift_km) + 0.5 + 0.1 * rng.standard_normal(km_a.size)
    order = rng.permutation(km_a.size)
    drift = kilometre_drift(km_a, measure_a, km_b=km_b[order], measure_b=measure_b[order])
    assert drift.shift_km is not None
    assert drift.uncertainty_km is not None
    assert abs(drift.shift_km - shift_km) < 3.0 * drift.uncertainty_km
    assert drift.uncertainty_km < 0.03
    assert drift.agreement > 0.95


@pytest.mark.parametrize(
    ("measure_b", "why"),
    [
        (np.random.default_rng(1).standard_normal(60), "not alike"),
        (np.zeros(60), "not alike"),
        (np.sin(np.arange(60) * 0.1 * 2.0 * math.pi / 0.4), "repeat"),
    ],
)
def test_no_drift_is_claimed_where_the_patterns_do_not_tell(
    measure_b: np.ndarray, why: str
) -> None:
    km = np.arange(60) * 0.1
    measure_a = measure_b if why == "repeat" else pattern(km)
    drift = kilometre_drift(km, measure_a, km_b=km, measure_b=measure_b)
    assert drift.shift_km is None
    assert why in drift.reason


def test_too_few_sections_tell_nothing() -> None:
    km = np.arange(5.0)
    drift = kilometre_drift(km, km, km_b=km, measure_b=km)
    assert drift.shift_km is None
    assert "fewer than" in drift.reason
