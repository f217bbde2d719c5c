"""``steer``: what a curve needs by formula, what the shape gives, and the sign of the curve."""

from pathlib import Path

import pytest

from tapertread.cli.steer import KEYS

STEER = ("steer", "--wheel", "S1002", "--rail", "60E1", "--json")


@pytest.fixture(scope="module")
def data(call):
    return call(*STEER, "--curve-radius", 600).data


def test_every_documented_key_is_there_and_no_other(data) -> None:
    assert set(data) == set(KEYS)
    assert set(data["available_difference_mm"]) == {"tread", "with_flange_root"}


@pytest.mark.parametrize("radius_m", [150.0, 600.0, 3000.0])
def test_needed_is_tape_circle_distance_times_radius_over_curve(call, radius_m) -> None:
    """Pure rolling: the outer path is longer by the tape-circle distance over the curve radius."""
    found = call(*STEER, "--curve-radius", radius_m).data["needed_difference_mm"]
    assert found == pytest.approx(1500.0 * 460.0 / (1000.0 * radius_m), rel=1e-9)


def test_a_wide_curve_is_free_and_a_tight_one_is_not(call, data) -> None:
    tight = call(*STEER, "--curve-radius", 150).data
    assert data["flange_free_by_shape"] is True
    assert data["steering_share"] == 1.0
    assert tight["flange_free_by_shape"] is False
    assert 0.0 < tight["steering_share"] < 1.0
    assert tight["needed_difference_mm"] > tight["available_difference_mm"]["tread"]


def test_available_differences_belong_to_the_shape_and_not_to_the_curve(call, data) -> None:
    other = call(*STEER, "--curve-radius", 1200).data
    assert other["available_difference_mm"] == data["available_difference_mm"]
    assert (
        data["available_difference_mm"]["with_flange_root"]
        > data["available_difference_mm"]["tread"]
    )


def test_the_equilibrium_gives_just_what_is_needed(data) -> None:
    """Read back from the answer's own curve, for a symmetric pair."""
    shifts, difference = data["shift_mm"], data["rolling_radius_difference_mm"]
    at = data["equilibrium_outward_shift_mm"]
    i = max(i for i, shift in enumerate(shifts) if shift <= at)
    share = (at - shifts[i]) / (shifts[i + 1] - shifts[i])
    given = difference[i] + share * (difference[i + 1] - difference[i])
    assert given == pytest.approx(data["needed_difference_mm"], abs=0.02)


def test_what_the_shape_cannot_give_has_no_equilibrium_and_says_so(call) -> None:
    found = call(
        "steer", "--wheel", "cylinder-no-flange", "--rail", "60E1", "--curve-radius", 300, "--json"
    )
    assert found.data["equilibrium_outward_shift_mm"] is None
    assert any(note.startswith("equilibrium_outward_shift_mm:") for note in found.data["notes"])
    assert found.data["flange_free_by_shape"] is False


def test_the_hand_of_the_curve_matters_to_an_unequal_wheelset(call) -> None:
    """The right wheel larger by 0.2 mm on a 1:20 tread: a left curve is helped, a right one not.

    The absolute-sign check: such a wheelset runs off its centre toward the left rail, and in a
    left curve its larger wheel is the outer one already.
    """
    tread = (
        "steer",
        "--wheel",
        "freight-1-20",
        "--rail",
        "60E1",
        "--inclination",
        "1:20",
        "--json",
    )
    tread += ("--wheel-radius", 460.2, "--left-wheel-radius", 460)
    left, right = (call(*tread, "--curve-radius", r).data for r in (-3000, 3000))
    assert left["curve_radius_m"] == -3000.0
    assert left["equilibrium_outward_shift_mm"] < 1.0
    assert right["equilibrium_outward_shift_mm"] > 3.0


def test_a_hollow_tread_steers_the_wrong_way_and_says_where(call) -> None:
    """In a right curve the inner, right wheel bears on its field side and is the larger one."""
    tread = ("steer", "--wheel", "hollow-worn", "--rail", "60E1", "--json")
    for radius_m, side, sign in ((500, "right", 1.0), (-500, "left", -1.0)):
        data = call(*tread, "--curve-radius", radius_m).data
        assert data["reversal"]["side"] == side
        assert sign * data["reversal"]["difference_mm"] > 0.0
        assert data["reversal"]["wheel_y_mm"] > 0.0
        assert any(note.startswith("reversal:") for note in data["notes"])


def test_a_degree_of_curve_is_its_radius(call) -> None:
    """50 ft / sin(D/2): five degrees are 349.39 m (definition by the 100 ft chord)."""
    found = call(*STEER, "--curve-degrees", 5).data
    assert found["curve_radius_m"] == pytest.approx(349.39, abs=0.02)


def test_it_says_that_shape_alone_is_meant(call, data) -> None:
    assert any("by shape alone" in note and "clearance" in note for note in data["notes"])
    text = call(*STEER[:-1], "--curve-radius", -600).out
    assert "600 m left" in text
    assert "by shape alone" in text


def test_the_angles_that_part_tread_and_flange_face_are_stated(call, data) -> None:
    assert data["tread_angle_deg"] == 15.0
    assert data["flange_angle_deg"] == 45.0
    text = call(*STEER[:-1], "--curve-radius", 600).out
    assert "on the tread (below 15°)" in text
    assert "flange root (below 45°)" in text
    page = (Path(__file__).parents[2] / "docs" / "contact.md").read_text(encoding="utf-8")
    assert "contact angle is still below 15°" in page


def test_where_two_points_come_near_is_told_and_what_that_means_beyond(call, data) -> None:
    assert 4.3 < data["two_point_from_mm"] < 5.0
    assert not any("optimistic" in note for note in data["notes"])
    beyond = call(*STEER, "--inclination", "1:20", "--curve-radius", 600).data
    assert beyond["flange_free_by_shape"] is True
    assert beyond["equilibrium_outward_shift_mm"] > beyond["two_point_from_mm"]
    assert any(
        note.startswith("flange_free_by_shape: from") and "optimistic" in note
        for note in beyond["notes"]
    )
    none = call("steer", "--wheel", "cylinder-no-flange", *STEER[3:], "--curve-radius", 600).data
    assert none["two_point_from_mm"] is None
    assert any(note.startswith("two_point_from_mm:") for note in none["notes"])


MODEL = (
    *("--gauge", 45, "--back-to-back", 30, "--tube-radius", 5, "--wheel-radius", 15),
    *("--curve-radius", 2),
)


def test_contact_far_off_the_tape_circles_is_told_with_the_need_by_it(call) -> None:
    """Rails 45 mm apart of tubes of 5 mm: their tops are 55 mm apart, the tape circles 170 mm."""
    data = call("steer", "--wheel", "cone-steep-no-flange", "--rail", "tube", *MODEL, "--json").data
    assert data["needed_difference_mm"] == pytest.approx(170.0 * 15.0 / 2000.0)
    spacing = data["contact_spacing_mm"]
    assert spacing == pytest.approx(45.0 + 2.0 * 5.0, abs=3.0)
    (note,) = [one for one in data["notes"] if one.startswith("needed_difference_mm:")]
    assert f"touch {spacing:.2f} mm apart" in note
    assert f"{spacing * 15.0 / 2000.0:.3f} mm would be needed" in note


def test_contact_near_the_tape_circles_needs_no_such_note(data) -> None:
    assert data["contact_spacing_mm"] == pytest.approx(1500.0, rel=0.01)
    assert not any(note.startswith("needed_difference_mm:") for note in data["notes"])
