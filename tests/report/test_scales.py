"""Axes and places: round ticks, nothing cut off, equal scales equal."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tapertread.report.scales import Box, Panel, axis, digits_for, equal_panel, fixed_axis, step_for


@given(st.floats(1e-6, 1e9), st.integers(2, 12))
def test_steps_are_round_and_about_as_many_as_asked(span, about):
    step = step_for(span, about=about)
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - m) for m in (1, 2, 2.5, 5, 10)) < 1e-6
    assert about / 2.6 <= span / step <= about * (1 + 1e-9)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20))
def test_an_axis_holds_every_value_and_its_ticks(values):
    assume(max(values) - min(values) > 1e-3 or max(values) == min(values))
    found = axis("a", values)
    assert found.low <= min(values)
    assert found.high >= max(values)
    assert all(found.low - 1e-6 <= t <= found.high + 1e-6 for t in found.ticks)


def test_missing_values_do_not_stretch_an_axis():
    found = axis("a", [1.0, np.nan, np.inf, 3.0], margin=0.0)
    assert (found.low, found.high) == (1.0, 3.0)


def test_an_axis_of_nothing_is_refused():
    with pytest.raises(ValueError, match="no finite value"):
        axis("thickness", [np.nan, np.inf])


def test_tick_numbers_carry_the_digits_of_their_step():
    found = fixed_axis("a", -0.5, high=0.5, about=4)
    assert [found.tick_text(t) for t in found.ticks] == ["−0.50", "−0.25", "0.00", "0.25", "0.50"]
    assert digits_for(0.25) == 2
    assert digits_for(20.0) == 0


def test_zero_has_no_sign():
    assert fixed_axis("a", -1, high=1).tick_text(-0.0) == "0.0"


def test_snapped_ends_are_ticks():
    found = fixed_axis("a", 0.3, high=9.1, about=5, snap=True)
    assert found.low == found.ticks[0]
    assert found.high == found.ticks[-1]


def test_places_run_right_and_up():
    panel = Panel(
        box=Box(x=10, y=20, width=100, height=50),
        along=fixed_axis("x", 0, high=10),
        up=fixed_axis("y", -1, high=1),
    )
    assert panel.at(0, -1) == (10.0, 70.0)
    assert panel.at(10, 1) == (110.0, 20.0)


def test_equal_panels_do_not_stretch():
    panel = equal_panel(Box(x=0, y=0, width=440, height=200), centre=(750.0, -5.0), width=172.0)
    x0, y0 = panel.at(750.0, -5.0)
    x1, y1 = panel.at(751.0, -4.0)
    assert (x0, y0) == (220.0, 100.0)
    assert x1 - x0 == pytest.approx(y0 - y1)


def test_boxes_meet_and_hold():
    big, small = Box(x=0, y=0, width=10, height=10), Box(x=2, y=2, width=3, height=3)
    assert big.meets(small)
    assert big.holds(small)
    assert not small.holds(big)
    assert not small.meets(Box(x=5, y=2, width=3, height=3)), "touching is not meeting"
