"""One function that draws any result."""

from __future__ import annotations

from functools import singledispatch

import numpy as np

from tapertread.contact.conicity import ConicityCurve
from tapertread.contact.pairing import Pairing
from tapertread.contact.records import ContactTable
from tapertread.limits.verdicts import Verdict
from tapertread.railway.route import Route
from tapertread.report.adapting import stretches_of
from tapertread.report.figures import (
    GaugeSweep,
    LinePicture,
    conicity_curve,
    cross_section,
    difference_curve,
    gauge_band,
    line_strips,
    outline_picture,
    verdict_scale,
)
from tapertread.report.figures.curves import CurveNeeds
from tapertread.shapes.outline import Outline


@singledispatch
def draw(result: object) -> str:
    """Return a picture of a result as one stand-alone SVG.

    Parameters
    ----------
    result : object
        Outline, ContactTable, Pairing, ConicityCurve, GaugeSweep, Route, LinePicture or Verdict. An
        outline is drawn with its gauging lines; a contact table as the cross-section at its
        most central shift; a pairing as its rolling radius difference; a route along its length.

    Raises
    ------
    TypeError
        If there is no picture for this kind of result.
    """
    known = ", ".join(sorted(kind.__name__ for kind in draw.registry if kind is not object))
    raise TypeError(f"no picture for {type(result).__name__}; known: {known}")


@draw.register
def _(result: Outline) -> str:
    return outline_picture(result)


@draw.register
def _(result: ContactTable) -> str:
    stands = np.isfinite(result.roll_rad)
    distance = np.where(stands, np.abs(result.shift_mm), np.inf)
    return cross_section(result, int(np.argmin(distance)))


@draw.register
def _(result: Pairing) -> str:
    flange = result.flange
    free = None
    if flange.left_mm is not None and flange.right_mm is not None:
        free = (flange.left_mm, flange.right_mm)
    lines = [(line.shift_mm, line.stable) for line in result.lines]
    return difference_curve(result.table, CurveNeeds(free_shifts_mm=free), rolling_lines_mm=lines)


@draw.register
def _(result: ConicityCurve) -> str:
    return conicity_curve(result)


@draw.register
def _(result: GaugeSweep) -> str:
    return gauge_band(result)


@draw.register
def _(result: LinePicture) -> str:
    return line_strips(result)


@draw.register
def _(result: Route) -> str:
    return line_strips(LinePicture(stretches=stretches_of(result), sections=()))


@draw.register
def _(result: Verdict) -> str:
    picture = verdict_scale(result)
    if not picture:
        raise TypeError("no picture for a verdict without value or limit")
    return picture
