"""The cross-section of a pairing: both wheels on both rails, and a closer look at each contact."""

from __future__ import annotations

import math

import numpy as np

from tapertread.contact.records import ContactTable
from tapertread.report.figures.placing import Floats, Placed, placed
from tapertread.report.figures.words import mm_text, shape_text
from tapertread.report.inputs import DesignsLike
from tapertread.report.palette import Role
from tapertread.report.plots import (
    Note,
    arrow,
    beside,
    clipped,
    ground,
    labels,
    markers,
    scale_bar,
)
from tapertread.report.scales import Box, Panel, equal_panel
from tapertread.report.svg import document, path, polygon_d, polyline_d, text
from tapertread.units import UnitSystem

WIDTH, HEAD = 440.0, 26.0
WHOLE = Box(x=0.0, y=HEAD, width=WIDTH, height=196.0)
CLOSE = Box(x=0.0, y=HEAD, width=WIDTH, height=240.0)
CLOSE_SPAN_MM = 26.0
NEAR_GAP_MM = 0.5
"""A second place nearer than this is shown as a place that may share the load."""


def cross_section(
    table: ContactTable,
    index: int,
    *,
    designs: DesignsLike | None = None,
    system: UnitSystem = "metric",
) -> str:
    """Return both wheels on both rails at one shift, with a closer look at each contact.

    Parameters
    ----------
    table : ContactTable
        The pairing.
    index : int
        Row of the table.
    designs : DesignsLike, optional
        New outlines drawn dashed behind the worn ones.
    system : {"metric", "us"}
        Units written.

    Raises
    ------
    ContactRefused
        If the table holds no contact at this row.
    """
    sides = placed(table, index)
    gap = 20.0
    low = WHOLE.bottom + 14.0
    parts = [
        (_whole(side, designs, system), column * (WIDTH + gap), 0.0)
        for column, side in enumerate(sides)
    ] + [
        (_close(side, designs, system), column * (WIDTH + gap), low)
        for column, side in enumerate(sides)
    ]
    return document(
        _title(table, index, system),
        " ".join(_told(side, system) for side in sides),
        width=2 * WIDTH + gap,
        height=low + CLOSE.bottom + 2,
        parts=[beside(parts)],
    )


def cross_section_panels(
    table: ContactTable,
    index: int,
    *,
    designs: DesignsLike | None = None,
    system: UnitSystem = "metric",
) -> tuple[str, str, str, str]:
    """Return the same four panels as pictures of their own: left, right, left close, right close.

    Raises
    ------
    ContactRefused
        If the table holds no contact at this row.
    """
    left, right = placed(table, index)
    title = _title(table, index, system)

    def alone(side: Placed, box: Box, body: str) -> str:
        view = "whole" if box is WHOLE else "close"
        name = f"{title}: {side.side}, {view}"
        return document(name, _told(side, system), width=WIDTH, height=box.bottom + 2, parts=[body])

    return (
        alone(left, WHOLE, _whole(left, designs, system)),
        alone(right, WHOLE, _whole(right, designs, system)),
        alone(left, CLOSE, _close(left, designs, system)),
        alone(right, CLOSE, _close(right, designs, system)),
    )


def _title(table: ContactTable, index: int, system: UnitSystem) -> str:
    shift = float(table.shift_mm[index])
    way = "centred" if abs(shift) < 1e-9 else f"{mm_text(abs(shift), system)} to the "
    way += "" if abs(shift) < 1e-9 else ("right" if shift > 0 else "left")
    return f"Cross-section, axle {way}"


def _told(side: Placed, system: UnitSystem) -> str:
    wheel_y, rail_y, radius = (
        mm_text(side.value(name), system)
        for name in ("wheel_y_mm", "rail_y_mm", "rolling_radius_mm")
    )
    angle = math.degrees(side.value("contact_angle_rad"))
    return (
        f"{_heading(side)}; contact {wheel_y} from the tape line, {rail_y} from the rail axis, "
        f"angle {angle:.1f}°, rolling radius {radius}."
    )


def _whole(side: Placed, designs: DesignsLike | None, system: UnitSystem) -> str:
    middle = float(side.wheel(-3.0, 0.0)[0])
    panel = equal_panel(WHOLE, centre=(middle, -7.0), width=172.0)
    x, z = side.contact
    spot = panel.at(x, z)
    hint = f"← {side.side} rail" if side.side == "left" else f"{side.side} rail →"
    parts = [
        text(0, 16, words=_heading(side), size=13),
        clipped(WHOLE, [ground(WHOLE), *_bodies(side, panel, designs), _touch(side, panel, 34.0)]),
        scale_bar(panel, _bar(system, wide=True)),
        _names(side, panel),
        text(WIDTH, 16, words=hint, role="soft", size=11, anchor="end"),
    ]
    return "".join(parts) + markers([spot[0]], [spot[1]], shape="disc", role="contact", hollow=True)


def _heading(side: Placed) -> str:
    names = f"{shape_text(side.wheel_outline)} on {shape_text(side.rail_outline)}"
    return f"{side.side.capitalize()}: {names}"


def _names(side: Placed, panel: Panel) -> str:
    wheel = panel.at(*map(float, side.wheel(34.0, 18.0)))
    rail = panel.at(float(side.rail(0.0, 0.0)[0]), -30.0)
    return text(*wheel, words="wheel", role="wheel", anchor="middle", halo=True) + text(
        *rail, words="rail", role="rail", anchor="middle", halo=True
    )


def _close(side: Placed, designs: DesignsLike | None, system: UnitSystem) -> str:
    x, z = side.contact
    other = side.second(NEAR_GAP_MM)
    width, centre = CLOSE_SPAN_MM, (x, z + 1.0)
    if other is not None and abs(other[0] - x) < 70.0:
        width = max(width, 1.6 * abs(other[0] - x), 2.6 * abs(other[1] - z) * WIDTH / CLOSE.height)
        centre = (0.5 * (x + other[0]), 0.5 * (z + other[1]) + 1.0)
    panel = equal_panel(CLOSE, centre=centre, width=width)
    body = [ground(CLOSE), *_bodies(side, panel, designs), _touch(side, panel, 60.0)]
    notes = []
    if other is not None:
        spot = panel.at(*other)
        body.append(markers([spot[0]], [spot[1]], shape="diamond", role="contact", hollow=True))
        gap = mm_text(side.value("second_gap_mm"), system, digits=3)
        notes.append(Note(x=spot[0], y=spot[1], words=f"next place, gap {gap}", role="contact"))
    head = text(0, 16, words=_contact_words(side, system), size=13)
    return "".join(
        (head, clipped(CLOSE, body), labels(notes, within=CLOSE), scale_bar(panel, _bar(system)))
    )


def _contact_words(side: Placed, system: UnitSystem) -> str:
    angle = math.degrees(side.value("contact_angle_rad"))
    radius = mm_text(side.value("rolling_radius_mm"), system)
    words = f"{side.side.capitalize()} contact: angle {angle:.1f}°, rolling radius {radius}"
    return words.replace("-", "−")


def _bar(system: UnitSystem, *, wide: bool = False) -> tuple[float, str]:
    """Return length (mm) and words of a scale bar."""
    if system == "us":
        return (25.4, "1 in") if wide else (6.35, "1/4 in")
    return (20.0, "20 mm") if wide else (5.0, "5 mm")


def _bodies(side: Placed, panel: Panel, designs: DesignsLike | None) -> list[str]:
    """Return rail and wheel, lightly filled, with their designs dashed."""
    wheel, rail = side.wheel_outline, side.rail_outline
    worn: list[tuple[Role, tuple[Floats, Floats], float]] = [
        ("rail", side.rail(rail.y_mm, rail.z_mm), -400.0),
        ("wheel", side.wheel(wheel.y_mm, wheel.z_mm), 400.0),
    ]
    fills = [
        path(_body_d(panel, *place, to), fill=role, fill_opacity=0.13) for role, place, to in worn
    ]
    dashes = [
        path(_line_d(panel, *place), stroke="design", width=1.1, stroke_dasharray="5 3")
        for place in _design_places(side, designs)
    ]
    lines = [path(_line_d(panel, *place), stroke=role, width=2.0) for role, place, _ in worn]
    return fills + dashes + lines


def _line_d(panel: Panel, x: Floats, z: Floats) -> str:
    return polyline_d(panel.x(x), panel.y(z))


def _body_d(panel: Panel, x: Floats, z: Floats, to_mm: float) -> str:
    """Return the outline closed far above (wheel) or far below (rail)."""
    far = np.full(1, to_mm)
    return polygon_d(
        panel.x(np.concatenate((x[:1], x, x[-1:]))), panel.y(np.concatenate((far, z, far)))
    )


def _design_places(side: Placed, designs: DesignsLike | None) -> list[tuple[Floats, Floats]]:
    if designs is None:
        return []
    left = side.side == "left"
    wheel = designs.left_wheel if left else designs.right_wheel
    rail = designs.left_rail if left else designs.right_rail
    places = [] if wheel is None else [side.wheel(wheel.y_mm, wheel.z_mm)]
    return places if rail is None else [*places, side.rail(rail.y_mm, rail.z_mm)]


def _touch(side: Placed, panel: Panel, length: float) -> str:
    x, y = panel.at(*side.contact)
    nx, nz = side.normal
    return arrow((x, y), (x + length * nx, y - length * nz), role="contact") + markers(
        [x], [y], shape="disc", role="contact", hollow=True
    )
