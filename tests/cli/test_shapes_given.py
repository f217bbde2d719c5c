"""A name, a drawing or an outline: the same shape gives the same answer, however it is given."""

from pathlib import Path

import numpy as np
import pytest

import tapertread
from tapertread.cli.shapes_given import Reading, drawing_given, shape_given
from tapertread.errors import RefusedInput, WrongUsage
from tapertread.shapes import design, design_names

S1002 = Path(tapertread.__file__).parent / "data" / "designs" / "s1002.toml"
PLAIN = Reading()


@pytest.fixture
def drawing_file(tmp_path):
    path = tmp_path / "own.toml"
    text = S1002.read_text(encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    return path


def test_name_and_drawing_file_give_the_very_same_outline(drawing_file) -> None:
    by_name = shape_given("S1002", kind="wheel", reading=PLAIN).outline
    by_file = shape_given(str(drawing_file), kind="wheel", reading=PLAIN).outline
    assert np.array_equal(by_name.y_mm, by_file.y_mm)
    assert np.array_equal(by_name.z_mm, by_file.z_mm)


def test_an_outline_file_gives_the_same_shape_and_says_what_was_done(wheel_file) -> None:
    given = shape_given(str(wheel_file), kind="wheel", reading=PLAIN)
    new = design("S1002", step_mm=0.05)
    gap = [
        np.hypot(new.y_mm - y, new.z_mm - z).min()
        for y, z in zip(given.outline.y_mm, given.outline.z_mm, strict=True)
    ]
    assert np.quantile(gap, 0.95) < 0.05
    assert any("own axes hold" in note for note in given.notes)


def test_an_outline_anywhere_is_carried_into_the_axes_of_its_design(tmp_path, as_table) -> None:
    file = tmp_path / "moved.csv"
    file.write_text(as_table(design("S1002").moved(dy_mm=4.0, dz_mm=1.5, turn_rad=0.01)))
    given = shape_given(str(file), kind="wheel", reading=Reading(design="S1002"))
    tape = np.interp(0.0, given.outline.y_mm[-400:], given.outline.z_mm[-400:])
    assert tape == pytest.approx(0.0, abs=0.03)
    assert given.outline.z_mm.min() == pytest.approx(-28.0, abs=0.05)


def test_pair_takes_an_outline_file_as_well_as_a_name(call, wheel_file, rail_file) -> None:
    named = call("pair", "--wheel", "S1002", "--rail", "60E1", "--json").data
    filed = call("pair", "--wheel", wheel_file, "--rail", rail_file, "--json").data
    one, other = (
        np.array(data["rolling_radius_difference_mm"], dtype=float)[28:53]
        for data in (named, filed)
    )
    assert np.median(np.abs(one - other)) < 0.05
    assert filed["wheelset"]["right"]["status"] == "measured"


@pytest.mark.parametrize(
    ("text", "kind", "code"),
    [
        ("60E1", "wheel", "wrong-kind"),
        ("S1002", "rail", "wrong-kind"),
        ("S1020", "wheel", "unknown-design"),
        ("EPS", "wheel", "not-buildable"),
        ("nowhere.csv", "wheel", "missing-file"),
        ("folder/nowhere", "wheel", "missing-file"),
        ("nowhere.toml", "wheel", None),
    ],
)
def test_what_is_no_such_shape_is_refused_by_name(text, kind, code) -> None:
    with pytest.raises(RefusedInput) as caught:
        shape_given(text, kind=kind, reading=PLAIN)
    assert code is None or caught.value.code == code


@pytest.mark.parametrize("text", ["S1002", "s1002", "60e1", "136re-8", "CONE-1-40"])
def test_upper_and_lower_case_name_the_same_design(text) -> None:
    kind = "wheel" if text[0] in "sSC" else "rail"
    given = shape_given(text, kind=kind, reading=PLAIN).outline
    assert given.origin.name.lower() == text.lower()
    assert given.origin.name in design_names()


def test_the_tube_takes_its_radius_by_any_case() -> None:
    small = shape_given("TUBE", kind="rail", reading=Reading(tube_radius_mm=12.0)).outline
    assert np.ptp(small.y_mm) == pytest.approx(24.0, abs=0.05)


def test_near_names_are_named() -> None:
    with pytest.raises(RefusedInput, match="S1002"):
        shape_given("s1002x", kind="wheel", reading=PLAIN)


def test_the_other_kind_is_refused_in_files_too(wheel_file, drawing_file) -> None:
    for text in (str(wheel_file), str(drawing_file)):
        with pytest.raises(RefusedInput) as caught:
            shape_given(text, kind="rail", reading=PLAIN)
        assert caught.value.code == "wrong-kind"


def test_an_outline_file_is_no_design(wheel_file) -> None:
    with pytest.raises(RefusedInput) as caught:
        drawing_given(str(wheel_file), kind="wheel")
    assert caught.value.code == "not-a-drawing"


def test_a_tube_radius_belongs_to_the_tube_alone(rail_file) -> None:
    for text in ("60E1", str(rail_file)):
        with pytest.raises(WrongUsage):
            shape_given(text, kind="rail", reading=Reading(tube_radius_mm=20.0))


def test_an_outline_that_cannot_be_trusted_is_refused_by_the_name_of_its_trap(
    tmp_path, as_table
) -> None:
    """A tread stretched by a tenth is no S1002: some trap says so, and its name is the code."""
    new = design("S1002")
    file = tmp_path / "stretched.csv"
    file.write_text(as_table(new.with_points(new.y_mm * 1.1, new.z_mm * 1.1)))
    with pytest.raises(RefusedInput) as caught:
        shape_given(str(file), kind="wheel", reading=Reading(design="S1002"))
    assert caught.value.where.file == str(file)
