"""Speed, radius and cant: the formulas that limit sets name beside their values."""

from __future__ import annotations

import math

CANT_CONSTANT = 11.8
"""mm·m/(km/h)²: contact spacing 1500 mm over 9.81 m/s² and 3.6², as rounded in the text."""


def equilibrium_cant_mm(*, speed_kmh: float, radius_m: float) -> float:
    """Return the cant at which weight and centrifugal force run square to the track plane.

    ``h = 11.8 V²/R``, the inverse of the speed formula [ebo-2012, 40(7)]; 0 on a straight.

    Parameters
    ----------
    speed_kmh : float
        Speed, km/h.
    radius_m : float
        Curve radius of either sign, m; ``inf`` is straight.

    Raises
    ------
    ValueError
        If the radius is zero or not a number.
    """
    if radius_m == 0.0 or math.isnan(radius_m):
        raise ValueError(f"curve radius {radius_m} m")
    return CANT_CONSTANT * speed_kmh**2 / abs(radius_m)


def cant_deficiency_mm(*, speed_kmh: float, radius_m: float, cant_mm: float) -> float:
    """Return equilibrium cant less the cant laid, mm; < 0 where cant is in excess [derived]."""
    return equilibrium_cant_mm(speed_kmh=speed_kmh, radius_m=radius_m) - cant_mm


def curve_speed_kmh(*, radius_m: float, cant_mm: float, deficiency_mm: float) -> float:
    """Return the curve speed ``v = sqrt(R (u + uf)/11.8)``, km/h [ebo-2012, 40(7)].

    Parameters
    ----------
    radius_m : float
        Curve radius of either sign, m.
    cant_mm, deficiency_mm : float
        Cant u and cant deficiency uf, mm.

    Raises
    ------
    ValueError
        If cant and deficiency together are negative.
    """
    together = cant_mm + deficiency_mm
    if together < 0.0:
        raise ValueError(f"cant and deficiency together are {together} mm")
    return math.sqrt(abs(radius_m) * together / CANT_CONSTANT)


def curve_speed_mph(*, curve_deg: float, cant_in: float, deficiency_in: float) -> float:
    """Return the curve speed ``V = sqrt((Ea + Eu)/(0.0007 D))``, mph [cfr-213, 213.57(b)].

    The constant is recalled and reproduces the printed table of that part's Appendix A.

    Parameters
    ----------
    curve_deg : float
        Degree of curve by the 100 ft chord.
    cant_in, deficiency_in : float
        Elevation of the outer rail and cant deficiency, in.

    Raises
    ------
    ValueError
        If the curve is straight, or cant and deficiency together are negative.
    """
    together = cant_in + deficiency_in
    if curve_deg == 0.0 or together < 0.0:
        raise ValueError(f"{curve_deg} degrees of curve with {together} in together")
    return math.sqrt(together / (0.0007 * abs(curve_deg)))
