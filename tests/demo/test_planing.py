"""The cap that planes: a line, an arc, a line, each tangent to the next."""

import math

import numpy as np
import pytest

from tapertread.demo.planing import Cap, plateau, rounded_max, rounded_min

Y = np.arange(-60.0, 40.0, 0.01)


@pytest.mark.parametrize("face_deg", [65.0, 75.0, 85.0])
@pytest.mark.parametrize("top_slope", [0.0, 0.05])
@pytest.mark.parametrize("radius_mm", [8.0, 14.0])
def test_cap_is_smooth_and_has_its_face_its_top_and_its_radius(
    face_deg: float, top_slope: float, radius_mm: float
) -> None:
    cap = Cap(
        face_y_mm=-37.0,
        face_z_mm=-14.0,
        face_deg=face_deg,
        top_mm=0.5,
        top_slope=top_slope,
        radius_mm=radius_mm,
    )
    z = cap.height_mm(Y)
    slope = np.gradient(z, Y)
    steep = math.tan(math.radians(face_deg))
    assert slope[:2000] == pytest.approx(steep, abs=1e-6)
    assert slope[-2000:] == pytest.approx(top_slope, abs=1e-6)
    assert np.interp(0.0, Y, z) == pytest.approx(0.5, abs=1e-9)
    assert np.all(np.diff(slope) < 1e-6)
    curvature = -np.gradient(slope, Y) / (1.0 + slope**2) ** 1.5
    assert np.median(curvature[curvature > 0.5 / radius_mm]) == pytest.approx(
        1.0 / radius_mm, rel=1e-3
    )


def test_rounding_only_happens_where_curves_are_near() -> None:
    flat, ramp = np.zeros_like(Y), Y.copy()
    rounded = rounded_max(flat, ramp, reach_mm=2.0)
    far = np.abs(Y) >= 2.0
    np.testing.assert_array_equal(rounded[far], np.maximum(flat, ramp)[far])
    assert np.interp(0.0, Y, rounded) == pytest.approx(0.5, abs=1e-9)
    assert np.all(rounded >= np.maximum(flat, ramp))
    np.testing.assert_allclose(
        rounded_min(flat, ramp, reach_mm=2.0), -rounded_max(flat, -ramp, reach_mm=2.0)
    )


def test_plateau_ends_exactly_and_has_its_halves_at_its_ends() -> None:
    share = plateau(Y, begin_mm=-20.0, end_mm=10.0, edge_mm=6.0)
    assert share.max() == 1.0
    assert share.min() == 0.0
    assert np.interp([-20.0, 10.0], Y, share) == pytest.approx([0.5, 0.5], abs=1e-6)
    assert not share[(Y < -23.0) | (Y > 13.0)].any()
