"""Whether a wheel is of the design stated at all, asked before any fault of a device is named.

A ball, a skew section and a wrong scale displace back, tip and rim by one law: taken off, the
unworn parts agree again. Where no such correction makes them agree, and neither a worn back nor a
rolled rim says why not, the wheel is of another design [derived].
"""

from __future__ import annotations

import numpy as np

from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.cleaning.stylus import into_metal
from tapertread.shapes.outline import Floats
from tapertread.shapes.traps import Trap
from tapertread.shapes.wheels.datum import BACK, CHAMFER, RIM_FACE, TIP, TREAD_END, WORN, WheelDatum
from tapertread.shapes.wheels.faults import BACKWARD, DEVICE, Fault
from tapertread.shapes.wheels.fit import (
    LEAST_SCALE_MM,
    MOST_SCALE_MM,
    WheelFit,
    fit_wheel,
)
from tapertread.shapes.wheels.readings import Running

CAPTURE_MM = 3.0
LEAST_AGREEING = 0.75
"""Share of the unworn arc that agrees at least, what a fault explains left aside."""

OWN_PARTS = {"back": (BACK,), "rim": (CHAMFER, RIM_FACE), "tread end": (TREAD_END,)}


def another_design(
    fit: WheelFit, datum: WheelDatum, *, cleaned: Cleaned, faults: tuple[Fault, ...]
) -> Trap | None:
    """Return that a wheel with a flange is not of its design, or ``None``.

    Parameters
    ----------
    fit : WheelFit
        As it lies on the design.
    datum : WheelDatum
        The design.
    cleaned : Cleaned
        What was laid.
    faults : tuple of Fault
        Those that the unworn parts seem to prove.
    """
    running = Running.of(fit.points)
    if running.tape() is None or running.tip() is None:
        return None
    device = next((fault for fault in faults if fault.name in DEVICE), None)
    best = fit
    if device is not None:
        corrected = _without(device, _measured(cleaned), laid=fit)
        best = fit_wheel(corrected, datum, noise=cleaned.noise)
    share = agreement(best, noise_mm=cleaned.noise_mm, faults=faults)
    if share >= LEAST_AGREEING:
        return None
    tried = "" if device is None else ", nor would they after any correction of the device"
    return Trap(
        name="another-design",
        severity="refuse",
        found=f"only {share:.0%} of flange back, tip and rim agree with the design{tried}: a wheel "
        "of another design, or worn where rails do not wear; state its design (--design)",
    )


def agreement(fit: WheelFit, *, noise_mm: float, faults: tuple[Fault, ...] = ()) -> float:
    """Return the share of unworn arc that agrees (0..1), parts left out that wore by themselves.

    Rails wear the tread end and the running side of the tip after all: inside, these tell nothing.
    """
    part, out, normal = fit.matched.part, fit.matched.outward_mm, fit.matched.normal
    within = 3.0 * min(max(noise_mm, LEAST_SCALE_MM), MOST_SCALE_MM)
    seen = (part != WORN) & (np.abs(out) < CAPTURE_MM)
    reached = (part == TREAD_END) | ((part == TIP) & (normal[:, 0] > -BACKWARD))
    seen &= ~(reached & (out < -within))
    for fault in faults:
        seen &= ~np.isin(part, OWN_PARTS.get(fault.name, ()))
        if fault.name == "back":
            seen &= normal[:, 0] > BACKWARD
    return float((seen & (np.abs(out) < within)).sum() / max(1, seen.sum()))


def _measured(cleaned: Cleaned) -> Floats:
    points = np.column_stack([cleaned.outline.y_mm, cleaned.outline.z_mm])
    return np.asarray(points[~cleaned.bridged])


def _without(fault: Fault, points: Floats, *, laid: WheelFit) -> Floats:
    """Return the measured points (n, 2; mm) as a device without this fault would give them."""
    if fault.name == "ball":
        return points + fault.size * into_metal(points, kind="wheel")
    factor = 1.0 / (1.0 + fault.size)
    stretch = np.array([factor, 1.0 if fault.name == "across" else factor])
    return np.asarray(laid.pose.of(points) * stretch)
