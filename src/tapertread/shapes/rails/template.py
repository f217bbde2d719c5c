"""How far an outline lies from a target template, place by place across the head.

At each place of the template, evenly spaced across the head, the distance to the outline is taken
along the template's own normal: > 0 where metal stands above the target (to be taken off), < 0
where it is missing (which grinding cannot put back). What is judged is the largest distance, the
root mean square, and the share of the width that lies within a tolerance; place by place weighs the
running surface by its width as seen from above. A definition of our own [derived].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tapertread.errors import OutlineRefused
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Floats, Outline

Lay = Literal["as-placed", "on-top"]

PLACE_STEP_MM = 0.25
REACH_MM = 25.0
LONGEST_STEP_MM = 2.5
TEMPLATE_STEP_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateDistance:
    """Distance of an outline from a template across the head.

    Attributes
    ----------
    y_mm : ndarray, shape (n,)
        Places across the head, mm.
    distance_mm : ndarray, shape (n,)
        > 0 where metal stands above the template; NaN where the outline has no metal to measure.
    largest_mm, rms_mm, share_within : Measured
        Largest absolute distance (mm), root mean square (mm), share of the width (percent) within
        `tolerance_mm`; missing with the reason if any place could not be measured.
    tolerance_mm : float
    lifted_mm : float
        How far the outline was lifted before comparing, mm.
    """

    y_mm: Floats
    distance_mm: Floats
    largest_mm: Measured
    rms_mm: Measured
    share_within: Measured
    tolerance_mm: float
    lifted_mm: float

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON; places that could not be measured are ``None``."""
        distance = [float(one) if np.isfinite(one) else None for one in self.distance_mm]
        return {
            "y_mm": self.y_mm.tolist(),
            "distance_mm": distance,
            "largest_mm": self.largest_mm.to_dict(),
            "rms_mm": self.rms_mm.to_dict(),
            "share_within_percent": self.share_within.to_dict(),
            "tolerance_mm": self.tolerance_mm,
            "lifted_mm": self.lifted_mm,
        }


def template_distance(
    outline: Outline,
    *,
    template: Drawing | Outline,
    y_from_mm: float,
    y_to_mm: float,
    tolerance_mm: float = 0.5,
    lay: Lay = "as-placed",
    noise_mm: float = 0.0,
) -> TemplateDistance:
    """Return how far an outline lies from a template between two places across the head.

    Parameters
    ----------
    outline : Outline
        In the template's axes.
    template : Drawing or Outline
        Target shape.
    y_from_mm, y_to_mm : float
        Where the comparison begins (gauge side) and ends (field side), mm.
    tolerance_mm : float
        Half width of the band for `share_within`, mm.
    lay : {"as-placed", "on-top"}
        ``on-top`` first lifts the outline so that both have the same highest place between the two
        ends: then only the shape is compared, and vertical wear no longer counts.
    noise_mm : float
        Standard deviation of a point along its normal, mm; taken as the uncertainty.

    Raises
    ------
    OutlineRefused
        If the places are in the wrong order or lie beyond the template.
    """
    target = template if isinstance(template, Outline) else template.outline(TEMPLATE_STEP_MM)
    run = _running_surface(target)
    y = _places(run, y_from_mm, y_to_mm)
    points, normals = _on_template(run, y)
    lifted = 0.0
    if lay == "on-top":
        own = _running_surface(outline)
        inside = (own[:, 0] >= y_from_mm) & (own[:, 0] <= y_to_mm)
        if inside.any():
            lifted = float(points[:, 1].max() - own[inside, 1].max())
    curve = np.column_stack((outline.y_mm, outline.z_mm + lifted))
    distance = np.array([_along(curve, p, n) for p, n in zip(points, normals, strict=True)])
    return _judged(y, distance, tolerance_mm, lifted_mm=lifted, noise_mm=noise_mm)


def _running_surface(outline: Outline) -> Floats:
    """Return the part of an outline that is seen from above, outward, shape (n, 2)."""
    y, z = outline.y_mm, outline.z_mm
    top = int(np.argmax(z))
    before = np.minimum.accumulate(y[: top + 1][::-1])[::-1]
    after = np.maximum.accumulate(y[top:])
    seen = np.concatenate((y[: top + 1] <= before, (y[top:] >= after)[1:]))
    head = z > z.max() - 60.0
    return np.column_stack((y[seen & head], z[seen & head]))


def _places(run: Floats, y_from_mm: float, y_to_mm: float) -> Floats:
    """Return the places across the head, and refuse those that the template does not have."""
    low, high = float(run[:, 0].min()), float(run[:, 0].max())
    if not low <= y_from_mm < y_to_mm <= high:
        raise OutlineRefused(
            "template-range",
            f"a comparison from y = {y_from_mm:g} to {y_to_mm:g} mm",
            allowed=f"a range within {low:.2f} to {high:.2f} mm, gauge side first",
            todo="narrow the range",
        )
    count = max(2, 1 + round((y_to_mm - y_from_mm) / PLACE_STEP_MM))
    return np.linspace(y_from_mm, y_to_mm, count)


def _on_template(run: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return the template's points at places across the head, and its upward normals there."""
    order = np.argsort(run[:, 0], kind="stable")
    run = run[order]
    z = np.interp(y, run[:, 0], run[:, 1])
    step = 0.5 * TEMPLATE_STEP_MM
    low = np.maximum(y - step, run[0, 0])
    high = np.minimum(y + step, run[-1, 0])
    rise = np.interp(high, run[:, 0], run[:, 1]) - np.interp(low, run[:, 0], run[:, 1])
    normals = np.column_stack((-rise, high - low))
    return np.column_stack((y, z)), normals / np.hypot(*normals.T)[:, None]


def _along(curve: Floats, point: Floats, normal: Floats) -> float:
    """Return where the normal from a point meets a curve nearest to the point, mm, or NaN."""
    from_point = curve - point
    along = from_point @ normal
    across = from_point[:, 1] * normal[0] - from_point[:, 0] * normal[1]
    crossed = np.flatnonzero((across[:-1] < 0.0) != (across[1:] < 0.0))
    if not crossed.size:
        return float("nan")
    share = across[crossed] / (across[crossed] - across[crossed + 1])
    at = along[crossed] + share * (along[crossed + 1] - along[crossed])
    gap = np.hypot(*(curve[crossed + 1] - curve[crossed]).T)
    best = int(np.argmin(np.abs(at)))
    if abs(at[best]) > REACH_MM or gap[best] > LONGEST_STEP_MM:
        return float("nan")
    return float(at[best])


def _judged(
    y: Floats, distance: Floats, tolerance_mm: float, *, lifted_mm: float, noise_mm: float
) -> TemplateDistance:
    """Return largest, root mean square and share within, or why they are missing."""
    lost = int(np.count_nonzero(~np.isfinite(distance)))
    if lost:
        reason = f"{lost} of {y.size} places across the head carry no measured metal"
        largest = rms = Measured.missing("mm", reason)
        share = Measured.missing("percent", reason)
    else:
        largest = Measured.of(float(np.abs(distance).max()), "mm", noise=noise_mm)
        rms = Measured.of(float(np.sqrt(np.mean(distance**2))), "mm", noise=noise_mm)
        share = _share_within(distance, tolerance_mm, noise_mm=noise_mm)
    return TemplateDistance(
        y_mm=y,
        distance_mm=distance,
        largest_mm=largest,
        rms_mm=rms,
        share_within=share,
        tolerance_mm=tolerance_mm,
        lifted_mm=lifted_mm,
    )


def _share_within(distance: Floats, tolerance_mm: float, *, noise_mm: float) -> Measured:
    """Return the share of the width within the tolerance, unsure by what the noise would shift."""
    shares = [
        100.0 * float(np.mean(np.abs(distance) <= tolerance_mm + shift))
        for shift in (-noise_mm, 0.0, noise_mm)
    ]
    return Measured.of(shares[1], "percent", noise=0.5 * (shares[2] - shares[0]))
