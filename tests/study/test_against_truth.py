"""Measures and running held against what is true of the invented railways.

The truth comes from the generator, whose measures are plain interpolation on the true outlines,
apart from the room that gauges. Tolerances: 0.15 mm for measures and, away from jumps, 0.05 mm at
the median and 0.15 mm at the 95th percentile for rolling radius differences, are what this project
asks of itself; wider ones say here why.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.lib.stride_tricks import sliding_window_view
from scipy.stats import binom

from tapertread.contact import TrackShape, contact_table, smoothed_difference_mm
from tapertread.errors import ContactRefused
from tapertread.shapes.measured import NINETY_PERCENT_FACTOR
from tapertread.study.curving import curve_of
from tapertread.study.encounters import Meeting, meet
from tapertread.study.ground import CONICITY_UNCERTAINTY, DIFFERENCE_UNCERTAINTY_MM

NO_SPOIL = {"nominal-gauge-only", "missing-diameter", "kilometre-drift", "datum-bias", "tilt"}
"""Planted faults that leave the outlines themselves good."""

HELD_BY_A_FLANK = {"vertical_wear_mm", "combined_wear_mm", "wear_45_mm"}
"""A train sees only heads: their height hangs on the field flank, which is steep, and its noise of
0.04 mm that hangs together over 5 mm then moves these by up to 0.2 mm. The clamp sees the foot."""

SHIFTS_MM = np.arange(-96, 97) / 16.0


def spoiled(demo, asset, side):
    planted = demo.truth.planted_on(asset, campaign=demo.campaign, side=side)
    return any(one.trap not in NO_SPOIL for one in planted)


def compared(demo, *, unit="mm", kind="wheel"):
    """Yield name, error, measured and on hand of every measure without a planted fault."""
    pool = demo.wheelsets if kind == "wheel" else demo.sections
    truths = demo.truth.wheelsets if kind == "wheel" else demo.truth.sections
    for asset, one in pool.items():
        truth = truths[asset, demo.campaign]
        for side in ("left", "right"):
            true = (truth.wheel(side) if kind == "wheel" else truth.rail(side)).measures
            outline = one.sides[side]
            if outline is None or outline.trust != "trusted" or spoiled(demo, asset, side):
                continue
            for name, value in true.items():
                measured = one.measures[f"{name}.{side}"]
                if measured.value is not None and measured.unit == unit:
                    yield name, measured.value - value, measured, one


def at_95(errors):
    return float(np.percentile(np.abs(errors), 95.0))


@pytest.mark.parametrize("which", ["main_demo", "us_demo"])
def test_wheel_measures_lie_within_a_seventh_of_a_millimetre(which, request):
    demo = request.getfixturevalue(which)
    errors = {}
    for name, error, _, _ in compared(demo):
        errors.setdefault(name, []).append(error)
    assert len(errors) == 7
    for name, some in errors.items():
        assert len(some) >= 25
        assert at_95(some) <= 0.15, name


@pytest.mark.parametrize(
    ("frame", "names", "tolerance"),
    [("rail-axis", "all", 0.15), ("track-plane", "anchored", 0.15), ("track-plane", "flank", 0.25)],
)
def test_rail_measures_lie_within_what_the_device_allows(main_demo, frame, names, tolerance):
    errors = {}
    for name, error, _, one in compared(main_demo, kind="rail"):
        by_flank = name in HELD_BY_A_FLANK
        if one.record.frame == frame and names in ("all", "flank" if by_flank else "anchored"):
            errors.setdefault(name, []).append(error)
    assert errors
    for name, some in errors.items():
        assert len(some) >= 15
        assert at_95(some) <= tolerance, name


def covered(demo, *, kind, without=()):
    inside = []
    for unit in ("mm", "deg", "percent"):
        for _, error, measured, _ in compared(demo, kind=kind, unit=unit):
            parts = [part for cause, part in measured.parts if cause not in without]
            inside.append(abs(error) <= NINETY_PERCENT_FACTOR * math.sqrt(sum(np.square(parts))))
    return sum(inside), len(inside)


def test_ninety_percent_intervals_hold_the_truth_pooled(main_demo, us_demo):
    """Asked: 85 to 95 %, tested with exact binomial bounds (0.5 % at either end)."""
    hits, count = np.sum(
        [covered(demo, kind=kind) for demo in (main_demo, us_demo) for kind in ("wheel", "rail")],
        axis=0,
    )
    assert count > 1500
    assert binom.ppf(0.005, count, 0.85) <= hits <= binom.ppf(0.995, count, 0.95)


def test_intervals_of_rails_hold_the_truth(main_demo):
    hits, count = covered(main_demo, kind="rail")
    assert count > 400
    assert binom.ppf(0.005, count, 0.85) <= hits <= binom.ppf(0.995, count, 0.95)


def test_intervals_of_wheels_are_wider_than_need_be_by_the_stated_repeatability(main_demo):
    """The register states a repeatability that the generator does not add to its noise.

    With it the intervals hold more than they claim; that is reported and not tuned away. They must
    at least never hold less.
    """
    hits, count = covered(main_demo, kind="wheel")
    assert hits >= binom.ppf(0.005, count, 0.90)
    fewer, _ = covered(main_demo, kind="wheel", without=("repeatability",))
    assert fewer < hits
    assert fewer >= binom.ppf(0.005, count, 0.80)


# ---- rolling radius differences ---------------------------------------------------------------


def true_wheels(demo, name):
    """Return the measured wheelset with the true outlines in place of the measured ones."""
    truth = demo.truth.wheelsets[name, demo.campaign]
    shape = demo.wheelsets[name].shape()
    return replace(shape, left=truth.left.outline, right=truth.right.outline)


def true_track(demo, name, gauge_mm=None):
    truth = demo.truth.sections[name, demo.campaign]
    return TrackShape(
        left=truth.left.outline,
        right=truth.right.outline,
        gauge_mm=truth.gauge_mm if gauge_mm is None else gauge_mm,
        inclination=truth.inclination,
    )


def good(demo, name, pool):
    one = pool[name]
    return all(
        one.sides[side] is not None
        and one.sides[side].trust == "trusted"
        and not spoiled(demo, name, side)
        for side in ("left", "right")
    )


def calm(true, *, within_mm=0.5, softening_mm=0.05):
    """Return the shifts of a true table that lie away from jumps.

    Near a jump the rigid difference and the one of elastic bodies part; where they agree to
    0.05 mm all around, one place alone bears.
    """
    reach = round(within_mm * 16)
    same = np.abs(true.rolling_radius_difference_mm - smoothed_difference_mm(true)) < softening_mm
    padded = np.pad(same, reach, constant_values=False)
    return sliding_window_view(padded, 2 * reach + 1).all(axis=1)


def hollow_mm(demo, name):
    truth = demo.truth.wheelsets[name, demo.campaign]
    return max(truth.wheel(side).measures["tread_hollow_mm"] for side in ("left", "right"))


def pairings(demo):
    """Yield hollow wheelsets on every section, and every seventh pairing of the fresher ones."""
    wheels = [name for name in demo.wheelsets if good(demo, name, demo.wheelsets)]
    wheels = [name for name in wheels if demo.wheelsets[name].shape() is not None]
    tracks = [name for name in demo.sections if good(demo, name, demo.sections)]
    at = 0
    for name in wheels:
        for where in tracks:
            at += 1
            if hollow_mm(demo, name) > 2.0:
                yield "hollow", name, where
            elif at % 7 == 0:
                yield f"fresh {demo.sections[where].record.frame}", name, where


@pytest.fixture(scope="module")
def difference_errors(main_demo):
    """Return errors of the difference away from jumps, by kind of pairing."""
    errors = {}
    for kind, name, where in pairings(main_demo):
        track = main_demo.sections[where].track(gauge_rule="smallest-0-14-mm")
        if track is None:
            continue
        try:
            measured = contact_table(
                main_demo.wheelsets[name].shape(),
                track,
                shifts_mm=SHIFTS_MM,
                second_contacts=False,
            )
            true = contact_table(
                true_wheels(main_demo, name),
                true_track(main_demo, where, gauge_mm=track.gauge_mm),
                shifts_mm=SHIFTS_MM,
                second_contacts=False,
            )
        except ContactRefused:
            continue
        error = measured.rolling_radius_difference_mm - true.rolling_radius_difference_mm
        keep = calm(true) & (np.abs(true.rolling_radius_difference_mm) < 2.5) & np.isfinite(error)
        errors.setdefault(kind, []).append(error[keep])
    return errors


@pytest.mark.parametrize(
    ("kind", "pairs", "middle_mm", "at_95_mm"),
    [
        ("fresh rail-axis", 20, 0.05, 0.15),
        ("fresh track-plane", 60, 0.06, 0.2),
        ("hollow", 60, 0.06, 0.3),
    ],
)
def test_differences_lie_within_noise_away_from_jumps(
    difference_errors, kind, pairs, middle_mm, at_95_mm
):
    """Asked: 0.05 mm at the median, 0.15 (fresh) or 0.3 mm (hollow) at the 95th percentile.

    A train's outlines miss 0.15 mm by a little: 0.04 mm of noise that hangs together over 5 mm on
    both rails, and heads alone to hold them by.
    """
    some = difference_errors[kind]
    errors = np.concatenate(some)
    assert len(some) >= pairs
    assert errors.size > 300
    assert np.median(np.abs(errors)) <= middle_mm
    assert at_95(errors) <= at_95_mm


def test_the_stated_uncertainty_of_a_difference_is_what_outlines_leave(difference_errors):
    errors = np.concatenate([one for some in difference_errors.values() for one in some])
    spread = float(np.median(np.abs(errors))) / 0.6745  # of a normal distribution
    assert 0.6 * spread < DIFFERENCE_UNCERTAINTY_MM < 1.7 * spread


# ---- what the treads give, and conicity -------------------------------------------------------


@pytest.fixture(scope="module")
def true_encounters(main_demo):
    """Return a third of all encounters, each beside the true one."""
    found = []
    every = [
        one for some in main_demo.crossing.by_wheelset.values() for one in some if not one.problem
    ]
    for one in every[::3]:
        name, where = one.wheelset, one.section
        if not good(main_demo, name, main_demo.wheelsets) or not good(
            main_demo, where, main_demo.sections
        ):
            continue
        truth = main_demo.truth.wheelsets[name, main_demo.campaign]
        wheels = replace(
            true_wheels(main_demo, name),
            left_radius_mm=0.5 * truth.left.diameter_mm,
            right_radius_mm=0.5 * truth.right.diameter_mm,
            back_to_back_mm=truth.back_to_back_mm,
        )
        if not one.turned:
            true = meet(
                Meeting(
                    wheelset=name,
                    section=where,
                    wheels=wheels,
                    track=true_track(main_demo, where),
                    curve_radius_m=one.curve_radius_m,
                )
            )
            found.append((one, true))
    return found


def test_shares_of_steering_hold_the_truth(main_demo, true_encounters):
    ground = main_demo.ground()
    inside, near = [], []
    for one, true in true_encounters:
        curve = curve_of(one, main_demo.wheelsets[one.wheelset], ground)
        if curve is None or true.steering is None:
            continue
        asked = min(curve.steering.needed_difference_mm, curve.new_mm)
        share = max(min(true.steering.available_tread_mm / asked, 1.0), -1.0)
        hit = abs(share - curve.share.value) <= NINETY_PERCENT_FACTOR * curve.share.uncertainty
        inside.append(hit)
        if min(share, curve.share.value) < 0.99:
            near.append(hit)
    assert len(inside) > 250
    assert np.mean(inside) > 0.9
    assert np.mean(near) > 0.7  # where the tread ends at a jump, a part of them lie beyond


def test_conicities_hold_the_truth(true_encounters):
    errors = [
        one.conicity - true.conicity
        for one, true in true_encounters
        if one.conicity is not None and true.conicity is not None
    ]
    assert len(errors) > 150
    assert abs(np.median(errors)) < 0.5 * CONICITY_UNCERTAINTY
    assert np.mean(np.abs(errors) < 2.0 * CONICITY_UNCERTAINTY) > 0.85
    spread = float(np.median(np.abs(errors))) / 0.6745
    assert 0.6 * spread < CONICITY_UNCERTAINTY < 1.7 * spread
