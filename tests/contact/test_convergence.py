"""The search converges in second order, with its grid and with the points of the outlines."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tapertread.contact import contact_table

SHIFTS_MM = np.linspace(-3.0, 3.0, 25)
HALF_SPACING_MM, ANGLE_RAD, RAIL_MM, WHEEL_MM = 750.0, 0.05, 80.0, 400.0


def _difference(shapes: Any, grid_mm: float) -> np.ndarray:
    wheelset = shapes.wheelset(shapes.arc_wheel(WHEEL_MM, ANGLE_RAD))
    track = shapes.round_track(RAIL_MM, ANGLE_RAD, half_spacing_mm=HALF_SPACING_MM)
    table = contact_table(wheelset, track, shifts_mm=SHIFTS_MM, grid_mm=grid_mm)
    assert not table.notes
    return np.asarray(table.rolling_radius_difference_mm)


def _order(steps: list[float], solve: Callable[[float], np.ndarray], exact: np.ndarray) -> float:
    """Return the slope of the error over the step, both as logarithms."""
    errors = [float(np.sqrt(np.mean((solve(step) - exact) ** 2))) for step in steps]
    return float(np.polyfit(np.log(steps), np.log(errors), 1)[0])


@pytest.fixture(scope="module")
def exact(fine_shapes: Callable[[float], Any]) -> np.ndarray:
    return _difference(fine_shapes(0.02), 0.02)


def test_order_with_the_grid(fine_shapes: Callable[[float], Any], exact: np.ndarray) -> None:
    shapes = fine_shapes(0.02)
    order = _order([0.4, 0.6, 0.8, 1.2], lambda grid: _difference(shapes, grid), exact)
    assert order > 1.9


def test_order_with_the_points_of_the_outline(
    fine_shapes: Callable[[float], Any], exact: np.ndarray
) -> None:
    order = _order([2.0, 3.0, 4.0, 6.0], lambda step: _difference(fine_shapes(step), 0.05), exact)
    assert order > 1.9


def test_the_usual_grid_is_fine_enough(
    fine_shapes: Callable[[float], Any], exact: np.ndarray
) -> None:
    """0.2 mm grid and 0.2 mm points: far below the 0.05 mm that measuring leaves open."""
    found = _difference(fine_shapes(0.2), 0.2)
    assert np.abs(found - exact).max() < 1e-4
