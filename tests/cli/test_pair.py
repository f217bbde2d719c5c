"""``pair``: the contract's keys, its signs, and that neither span nor step changes what is true."""

import math

import numpy as np
import pytest

from tapertread.cli.pair import KEYS

PAIR = ("pair", "--wheel", "S1002", "--rail", "60E1", "--json")


@pytest.fixture(scope="module")
def standard(call):
    return call(*PAIR)


@pytest.fixture(scope="module")
def data(standard):
    return standard.data


def test_every_documented_key_is_there_and_no_other(data) -> None:
    assert set(data) == set(KEYS)


def test_nothing_stands_beside_the_object(standard) -> None:
    assert standard.status == 0
    assert standard.out.count("\n") == 1
    assert standard.err == ""


def test_the_contract_of_shapes_and_defaults(data) -> None:
    assert data["wheelset"]["back_to_back_mm"] == 1360.0
    assert data["wheelset"]["tape_circle_distance_mm"] == 1500.0
    assert data["wheelset"]["right_radius_mm"] == data["wheelset"]["left_radius_mm"] == 460.0
    assert data["track"]["gauge_mm"] == 1435.0
    assert data["track"]["inclination"] == 1 / 40
    assert data["yaw_mrad"] == 0.0


def test_shifts_run_over_the_span_in_steps_and_every_array_keeps_their_length(data) -> None:
    assert data["shift_mm"] == [0.25 * i for i in range(-40, 41)]
    arrays = [
        data["roll_rad"],
        data["rolling_radius_difference_mm"],
        data["smoothed_difference_mm"],
    ]
    for side in ("right", "left"):
        arrays += [value for key, value in data[side].items() if key != "second"]
        arrays += list(data[side]["second"].values())
    assert {len(one) for one in arrays} == {81}


def test_difference_is_right_minus_left_and_grows_toward_the_right_rail(data) -> None:
    right = np.array(data["right"]["rolling_radius_mm"], dtype=float)
    left = np.array(data["left"]["rolling_radius_mm"], dtype=float)
    difference = np.array(data["rolling_radius_difference_mm"], dtype=float)
    assert np.allclose(difference, right - left, atol=1e-12)
    at = data["shift_mm"].index(3.0)
    assert difference[at] > 0.5
    assert data["roll_rad"][at] == pytest.approx(-0.180e-3, abs=0.01e-3)
    """Roll at +3 mm of S1002 on 60E1 1:40, computed independently (trade notes of the project)."""


def test_a_symmetric_pair_rolls_on_its_centre(data) -> None:
    free = [line for line in data["rolling_lines_mm"] if line["stable"] and not line["on_flange"]]
    assert [line["shift_mm"] for line in free] == [pytest.approx(0.0, abs=1e-6)]
    assert data["flange_contact"]["right_mm"] == pytest.approx(-data["flange_contact"]["left_mm"])
    assert data["flange_contact_shift_mm"] == pytest.approx(data["flange_contact"]["right_mm"])


def test_conicity_has_at_least_the_five_amplitudes_and_equal_lengths(data) -> None:
    conicity = data["equivalent_conicity"]
    assert conicity["amplitude_mm"][:5] == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert len(conicity["value"]) == len(conicity["harmonic"]) == len(conicity["amplitude_mm"])
    assert conicity["standard_amplitude_mm"] == 3.0
    assert conicity["standard_value"] == pytest.approx(conicity["value"][2])


@pytest.mark.parametrize("more", [("--span", 3, "--step", 0.5), ("--span", 12, "--step", 1)])
def test_span_and_step_change_what_is_shown_and_nothing_else(call, data, more) -> None:
    other = call(*PAIR, *more).data
    assert other["shift_mm"][-1] == more[1]
    for key in ("equivalent_conicity", "rolling_lines_mm", "flange_contact", "clearance_mm"):
        assert _close(other[key], data[key]), key


def _close(one: object, other: object) -> bool:
    if isinstance(one, dict):
        return all(_close(one[key], other[key]) for key in other)
    if isinstance(one, list):
        return all(_close(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, float):
        return one == pytest.approx(other, rel=5e-3, abs=1e-6)
    return one == other


def test_beyond_stable_contact_arrays_hold_null_and_the_range_says_where(call) -> None:
    flangeless = call(
        "pair",
        "--wheel",
        "cylinder-no-flange",
        "--rail",
        "60E1",
        "--span",
        90,
        "--step",
        1,
        "--json",
    )
    data = flangeless.data
    first, last = data["range_mm"]
    for shift, roll in zip(data["shift_mm"], data["roll_rad"], strict=True):
        assert (roll is None) == (shift < first or shift > last)
    assert data["roll_rad"][0] is None
    assert any(note.startswith("range_mm, ") for note in data["notes"])


def test_what_is_undefined_is_null_with_its_reason(call) -> None:
    """A cylinder has no rolling line that steers it back, and without flange no clearance."""
    data = call("pair", "--wheel", "cylinder-no-flange", "--rail", "60E1", "--json").data
    for key in ("clearance_mm", "flange_contact_shift_mm", "nonlinearity_per_mm"):
        assert data[key] is None
        assert any(note.startswith(f"{key}:") for note in data["notes"]), key


def test_from_flange_contact_outward_a_wheel_climbs_and_the_values_stay(data) -> None:
    """S1002 at 7 to 10 mm stands on its flange: marked, and none of its numbers is taken away."""
    climbing = data["climbing_from_mm"]
    assert 6.0 < climbing["right"] < 7.0
    assert climbing["left"] == data["flange_contact"]["left_mm"]
    assert all(value is not None for value in data["rolling_radius_difference_mm"])
    outward = [
        angle
        for shift, angle in zip(data["shift_mm"], data["right"]["contact_angle_rad"], strict=True)
        if shift > climbing["right"]
    ]
    assert min(outward) > math.pi / 4
    notes = [note for note in data["notes"] if note.startswith("climbing_from_mm:")]
    assert ["right wheel" in notes[0], "left wheel" in notes[1]] == [True, True]


def test_without_a_flange_nothing_climbs_and_says_so(call) -> None:
    data = call("pair", "--wheel", "cylinder-no-flange", "--rail", "60E1", "--json").data
    assert data["climbing_from_mm"] is None
    assert any(note.startswith("climbing_from_mm:") for note in data["notes"])


@pytest.mark.parametrize("command", [PAIR, ("steer", *PAIR[1:], "--curve-radius", 600)])
def test_a_wheel_that_rides_its_rim_is_named_and_is_no_flange_contact(call, command) -> None:
    data = call(*command, "--gauge", 1600).data
    rims = [note for note in data["notes"] if note.startswith("rim:")]
    assert ["right" in rims[0], "left" in rims[1]] == [True, True]
    assert data.get("flange_contact_shift_mm") is None
    assert not any(note.startswith("rim:") for note in call(*command).data["notes"])


def test_a_cylinder_is_neutral_between_its_flanges_and_says_so(call) -> None:
    asked = ("pair", "--wheel", "cylinder", "--rail", "60E1")
    data, text = call(*asked, "--json").data, call(*asked).out
    assert all(line["on_flange"] for line in data["rolling_lines_mm"])
    assert any(note.startswith("rolling_lines_mm: neutral between -6.2") for note in data["notes"])
    assert "neutral between -6.2" in text.split("Notes:")[0]


def test_a_larger_left_wheel_moves_the_rolling_line_to_the_right(call) -> None:
    """The smaller right wheel has to climb on its flange side until both radii agree."""
    data = call(*PAIR, "--left-wheel-radius", 460.3).data
    (line,) = [one for one in data["rolling_lines_mm"] if one["stable"] and not one["on_flange"]]
    assert 0.1 < line["shift_mm"] < 2.0
    mirrored = call(*PAIR, "--wheel-radius", 460.3, "--left-wheel-radius", 460).data
    (back,) = [
        one for one in mirrored["rolling_lines_mm"] if one["stable"] and not one["on_flange"]
    ]
    assert back["shift_mm"] == pytest.approx(-line["shift_mm"], abs=1e-6)


def test_inches_and_millimetres_say_the_same(call, data) -> None:
    inches = call(*PAIR, "--gauge", f"{1435 / 25.4}in", "--wheel-radius", "0.46m").data
    assert _close(inches["equivalent_conicity"], data["equivalent_conicity"])


def test_each_side_may_be_another_shape(call) -> None:
    data = call(*PAIR, "--left-wheel", "cone-1-40", "--left-rail", "54E1").data
    assert data["wheelset"]["left"]["name"] == "cone-1-40"
    assert data["wheelset"]["right"]["name"] == "S1002"
    assert data["track"]["left"]["name"] == "54E1"


def test_a_doubtful_shape_shows_its_mark_everywhere(call) -> None:
    asked = ("pair", "--wheel", "S1002", "--rail", "136RE-8")
    data, text = call(*asked, "--json").data, call(*asked).out
    assert data["track"]["right"]["label"] == "136RE-8 (doubtful)"
    assert any("136RE-8 (doubtful)" in note for note in data["notes"])
    assert "136RE-8 (doubtful)" in text.splitlines()[0]


def test_the_radius_of_a_tube_is_an_option_of_it(call) -> None:
    asked = ("pair", "--wheel", "cone-steep-no-flange", "--rail", "tube", "--json")
    small = call(*asked, "--tube-radius", 20).data
    large = call(*asked, "--tube-radius", 40).data
    curvature = [one["right"]["rail_curvature_per_mm"][40] for one in (small, large)]
    assert curvature == [pytest.approx(1 / 20, rel=0.02), pytest.approx(1 / 40, rel=0.02)]


def test_yaw_turns_the_nose_to_the_right_and_moves_the_flange_contact_apart(call, data) -> None:
    yawed = call(*PAIR, "--yaw-mrad", 20).data
    assert yawed["yaw_mrad"] == 20.0
    assert not math.isclose(
        yawed["flange_contact_shift_mm"], data["flange_contact_shift_mm"], abs_tol=1e-4
    )


def test_the_sources_of_shapes_and_formulas_are_named(data) -> None:
    keys = {one["key"] for one in data["sources"]}
    assert {"en15302-2021", "tsi-locpas-2014", "stock-profile-reconstruction"} <= keys


def test_text_is_for_people_and_in_their_units(call) -> None:
    text = call("pair", "--wheel", "S1002", "--rail", "60E1", "--show", "us").out
    assert text.startswith("S1002 on 60E1, inclined 1:40, gauge 56.496 in")
    assert "by period" in text
    assert "NaN" not in text
    assert "nan" not in text.split("Notes:")[0]
