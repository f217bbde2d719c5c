"""Rails are laid on what does not wear, and nothing is claimed that nothing holds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tapertread.shapes.alignment import Aligned
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.cleaning.noise import Noise, NoisePart
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Outline
from tapertread.shapes.rails.aligning import align_rail, lay_on_design

SILENT = Noise()
QUIET = Noise(parts=(NoisePart(variance_mm2=0.02**2, length_mm=3.0),))


def misplaced(aligned: Aligned, *, dy: float, dz: float, turn: float) -> float:
    """Distance (mm) by which a file moved by a known movement was not brought back, over a head."""
    y, z = np.array([-36.0, 0.0, 36.0]), np.array([-14.0, 0.0, -14.0])
    moved = np.exp(1j * turn) * (y + 1j * z) + dy + 1j * dz
    back = np.exp(1j * aligned.turn_rad) * moved + aligned.dy_mm + 1j * aligned.dz_mm
    return float(np.abs(back - (y + 1j * z)).max())


@pytest.mark.parametrize("name", ["60E1", "54E1"])
def test_a_new_head_lies_on_its_own_drawing(name: str) -> None:
    drawing = design_drawing(name)
    aligned = lay_on_design(drawing.outline(0.2), design=drawing, noise=SILENT)
    laid = drawing.project(aligned.outline.y_mm, aligned.outline.z_mm)
    assert np.abs(laid.distance_mm).max() < 1e-9
    assert aligned.confidence == 1.0
    assert aligned.up.by == "field flank"


@pytest.mark.parametrize("extent", ["head", "head and web", "whole"])
@pytest.mark.parametrize(
    ("vertical_mm", "side_mm", "face_deg"), [(0.0, 0.0, 70.0), (5.0, 6.0, 70.0), (2.0, 12.0, 60.0)]
)
def test_any_origin_and_tilt_is_found_again(
    worn_rail: Callable[..., Any],
    rail_60e1: Drawing,
    extent: str,
    vertical_mm: float,
    side_mm: float,
    face_deg: float,
) -> None:
    """On exact outlines the movement comes back; cut edges beside the datum cost up to 3 µm."""
    worn = worn_rail(vertical_mm=vertical_mm, side_mm=side_mm, face_deg=face_deg, extent=extent)
    for dy, dz, turn in ((0.0, 0.0, 0.0), (7.0, -13.0, -0.03), (-250.0, 1000.0, 0.05)):
        file = worn.outline.moved(turn_rad=turn).moved(dy_mm=dy, dz_mm=dz)
        aligned = lay_on_design(file, design=rail_60e1, noise=SILENT)
        assert misplaced(aligned, dy=dy, dz=dz, turn=turn) < 4e-3


def test_what_holds_a_rail_is_what_was_measured(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    held = {
        extent: lay_on_design(
            worn_rail(vertical_mm=5.0, side_mm=6.0, extent=extent).outline,
            design=rail_60e1,
            noise=QUIET,
        )
        for extent in ("head", "head and web", "whole")
    }
    assert held["head"].across.by == held["head"].turn.by == "field flank"
    assert "web" in held["head and web"].turn.by
    assert held["head and web"].up.by == "field flank"
    assert held["whole"].up.by == "foot underside"
    up = [held[extent].up.uncertainty for extent in ("head", "head and web", "whole")]
    assert up[0] > up[2]
    assert up[1] > up[2]
    turn = [held[extent].turn.uncertainty for extent in ("head", "head and web", "whole")]
    assert turn[0] > turn[1] > turn[2]


def test_a_flank_holds_across_far_better_than_up(rail_60e1: Drawing) -> None:
    """The 1:20 flank slides up and down along itself; only the corner above it says how high."""
    aligned = lay_on_design(rail_60e1.outline(0.2), design=rail_60e1, noise=QUIET)
    low = rail_60e1.outline(0.2)
    only_flank = low.with_points(
        low.y_mm[(low.y_mm < 0.0) | (low.z_mm < -14.3)],
        low.z_mm[(low.y_mm < 0.0) | (low.z_mm < -14.3)],
    )
    without_corner = lay_on_design(only_flank, design=rail_60e1, noise=QUIET)
    assert aligned.up.anchored
    assert not without_corner.up.anchored
    assert "running surface" in without_corner.up.reason
    assert without_corner.across.anchored
    # 10 mm of unknown vertical wear, evenly likely, slid along 1:20: 10/√3/20 mm.
    assert without_corner.across.uncertainty > 10.0 / math.sqrt(3.0) / 20.0


@pytest.mark.parametrize("extent", ["head", "head and web"])
def test_wear_below_the_corner_leaves_the_height_unheld(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, extent: str
) -> None:
    worn = worn_rail(vertical_mm=14.5, side_mm=8.0, extent=extent)
    aligned = lay_on_design(worn.outline, design=rail_60e1, noise=QUIET)
    assert not aligned.up.anchored
    assert aligned.across.anchored
    true_across = aligned.dy_mm
    assert abs(true_across) < 3.0 * aligned.across.uncertainty


def test_the_foot_holds_what_no_corner_can(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    worn = worn_rail(vertical_mm=14.5, side_mm=8.0, extent="whole")
    aligned = lay_on_design(worn.outline, design=rail_60e1, noise=QUIET)
    assert aligned.up.by == "foot underside"
    assert aligned.dz_mm == pytest.approx(0.0, abs=2e-3)


def test_the_given_datum_is_left_alone(worn_rail: Callable[..., Any], rail_60e1: Drawing) -> None:
    worn = worn_rail(vertical_mm=3.0, side_mm=2.0, extent="head")
    aligned = lay_on_design(worn.outline, design=rail_60e1, noise=QUIET, datum="given")
    assert (aligned.dy_mm, aligned.dz_mm, aligned.turn_rad) == (0.0, 0.0, 0.0)
    assert np.array_equal(aligned.outline.y_mm, worn.outline.y_mm)
    assert aligned.up.by == "the file's origin"
    assert any("repeatability" in note for note in aligned.notes)


@pytest.mark.parametrize("datum", ["fit", "given"])
@pytest.mark.parametrize("run", [40.0, 30.0, 20.0])
def test_a_track_plane_outline_is_turned_upright(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, datum: Any, run: float
) -> None:
    worn = worn_rail(vertical_mm=3.0, side_mm=2.0, extent="head")
    lean = math.atan(1.0 / run)
    leaning = replace(worn.outline.moved(turn_rad=lean), frame="track-plane")
    aligned = lay_on_design(leaning, design=rail_60e1, noise=SILENT, datum=datum)
    assert aligned.outline.frame == "rail-axis"
    assert aligned.turn_rad == pytest.approx(-lean, abs=2e-5)
    assert np.abs(aligned.outline.y_mm - worn.outline.y_mm).max() < 2e-3


def test_a_round_tube_cannot_say_how_it_is_turned() -> None:
    tube = design_drawing("tube")
    aligned = lay_on_design(tube.scaled(2.0).outline(0.2), design=tube.scaled(2.0), noise=QUIET)
    assert not aligned.turn.anchored
    assert "leans" in aligned.turn.reason


def test_points_in_any_order_and_either_direction_align_alike(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    """Through cleaning: shuffled points give the same placement."""
    outline: Outline = worn_rail(vertical_mm=2.0, side_mm=3.0, extent="head").outline
    order = np.random.default_rng(4).permutation(outline.y_mm.size)
    shuffled = outline.with_points(outline.y_mm[order], outline.z_mm[order])
    first = align_rail(clean(outline), design=rail_60e1)
    second = align_rail(clean(shuffled), design=rail_60e1)
    assert second.dz_mm == pytest.approx(first.dz_mm, abs=1e-3)
    assert second.turn_rad == pytest.approx(first.turn_rad, abs=1e-5)


def test_bridged_points_hold_nothing(worn_rail: Callable[..., Any], rail_60e1: Drawing) -> None:
    worn = worn_rail(extent="head")
    flank = (worn.outline.y_mm > 30.0) & (worn.outline.z_mm < -4.0)
    bent = worn.outline.with_points(worn.outline.y_mm - 0.3 * flank, worn.outline.z_mm)
    told = lay_on_design(bent, design=rail_60e1, noise=QUIET, bridged=flank)
    assert not told.across.anchored


def test_the_covariance_agrees_with_the_single_uncertainties(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    worn = worn_rail(vertical_mm=2.0, side_mm=3.0, extent="head")
    aligned = lay_on_design(worn.outline, design=rail_60e1, noise=QUIET)
    covariance = np.array(aligned.covariance)
    single = [held.uncertainty for held in (aligned.across, aligned.up, aligned.turn)]
    assert np.sqrt(np.diag(covariance)) == pytest.approx(single)
    assert np.linalg.eigvalsh(covariance).min() >= -1e-15
