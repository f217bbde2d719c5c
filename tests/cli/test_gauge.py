"""``gauge``: the contract's keys, units of the file, and what must be stated to be believed."""

from pathlib import Path

import pytest

import tapertread
from tapertread.cli.gauge import KEYS
from tapertread.shapes import design

S1002 = Path(tapertread.__file__).parent / "data" / "designs" / "s1002.toml"
WHEEL = ("flange_height_mm", "flange_thickness_mm", "flange_slope_mm", "tread_hollow_mm")
RAIL = ("vertical_wear_mm", "side_wear_mm", "head_area_loss_percent", "gauge_face_angle_deg")


@pytest.fixture(scope="module")
def wheel(call, wheel_file):
    return call("gauge", wheel_file, "--kind", "wheel", "--design", "S1002", "--json").data


@pytest.fixture(scope="module")
def rail(call, rail_file):
    return call("gauge", rail_file, "--kind", "rail", "--design", "60E1", "--json").data


def test_both_kinds_carry_the_keys_of_the_contract(wheel, rail) -> None:
    assert {*WHEEL, "flange_angle_deg"} <= set(wheel)
    assert set(RAIL) <= set(rail)
    assert {*wheel, *rail} == set(KEYS)


def test_a_new_wheel_has_the_measures_of_its_drawing(wheel) -> None:
    """28 / 32.5 / 10.79 mm and 70°: the standard measures of the S1002 drawing."""
    assert [wheel[key] for key in WHEEL] == [
        pytest.approx(value, abs=0.05) for value in (28.0, 32.5, 10.79, 0.0)
    ]
    assert wheel["flange_angle_deg"] == pytest.approx(70.0, abs=0.5)
    assert wheel["trust"] == "trusted"


def test_a_new_rail_is_not_worn(rail) -> None:
    for key in RAIL[:3]:
        assert rail[key] == pytest.approx(0.0, abs=0.1), key


def test_every_null_has_its_reason(wheel) -> None:
    assert wheel["rim_thickness_mm"] is None
    for key, value in wheel.items():
        if value is None:
            assert any(note.startswith(f"{key}:") for note in wheel["notes"]), key


def test_every_measure_carries_its_uncertainty(wheel) -> None:
    assert wheel["measured"]["flange_height_mm"]["uncertainty"] > 0.0
    assert wheel["alignment"]["confidence"] > 0.5


def test_stated_units_beat_the_header(call, as_table, tmp_path) -> None:
    file = tmp_path / "inches.csv"
    file.write_text(as_table(design("S1002"), header="y_mm,z_mm", per_mm=1 / 25.4))
    found = call("gauge", file, "--kind", "wheel", "--units", "in", "--json").data
    assert found["flange_height_mm"] == pytest.approx(28.0, abs=0.05)


def test_a_design_that_nobody_stated_is_named_in_the_notes(call, wheel_file) -> None:
    found = call("gauge", wheel_file, "--kind", "wheel", "--json").data
    assert found["design"] == "S1002"
    assert any(note.startswith("design: none was stated") for note in found["notes"])


def test_a_drawing_file_may_be_the_design(call, wheel_file, tmp_path) -> None:
    text = S1002.read_text(encoding="utf-8")
    drawing = tmp_path / "mine.toml"
    drawing.write_text(text)
    found = call("gauge", wheel_file, "--kind", "wheel", "--design", drawing, "--json").data
    assert found["flange_thickness_mm"] == pytest.approx(32.5, abs=0.05)


def test_a_given_datum_keeps_the_file_where_it_is(call, wheel_file, tmp_path, as_table) -> None:
    given = call("gauge", wheel_file, "--kind", "wheel", "--datum", "given", "--json").data
    assert given["alignment"]["dy_mm"] == 0.0
    moved = tmp_path / "moved.csv"
    moved.write_text(as_table(design("S1002").moved(dy_mm=3.0, dz_mm=-2.0, turn_rad=0.01)))
    fitted = call("gauge", moved, "--kind", "wheel", "--design", "S1002", "--json").data
    assert fitted["alignment"]["dy_mm"] == pytest.approx(-3.0, abs=0.1)
    assert fitted["flange_height_mm"] == pytest.approx(28.0, abs=0.05)


def test_a_rim_measured_apart_is_passed_on(call, wheel_file) -> None:
    found = call("gauge", wheel_file, "--kind", "wheel", "--rim-thickness", "1.5in", "--json").data
    assert found["rim_thickness_mm"] == pytest.approx(38.1)


def test_one_of_several_outlines_is_chosen_by_its_side(call, tmp_path) -> None:
    outline = design("S1002")
    rows = [
        f"W1,{side},{y:.4f},{z:.4f}"
        for side in ("left", "right")
        for y, z in zip(outline.y_mm, outline.z_mm, strict=True)
    ]
    file = tmp_path / "both.csv"
    file.write_text("\n".join(["wheelset,side,y_mm,z_mm", *rows]))
    found = call("gauge", file, "--kind", "wheel", "--side", "right", "--json").data
    assert found["record"].startswith("W1 right")
    refused = call("gauge", file, "--kind", "wheel", "--json").refused
    assert refused["code"] == "many-outlines"


def test_text_shows_us_units_where_asked(call, wheel_file) -> None:
    text = call("gauge", wheel_file, "--kind", "wheel", "--show", "us").out
    assert "1.102 in" in text
    assert "persons decide" in text
