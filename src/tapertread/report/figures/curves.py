"""Curves of one pairing: rolling radius difference, conicity, contact places, gauge sweeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tapertread.contact.records import ContactTable, SideContacts
from tapertread.report.figures.words import in_shown, mm_text, plain_range, with_unit
from tapertread.report.palette import Role
from tapertread.report.plots import (
    Dash,
    Key,
    Note,
    Shape,
    axes,
    band,
    clipped,
    labels,
    legend,
    level,
    line,
    points,
    upright,
)
from tapertread.report.scales import Axis, Box, Panel, axis, fixed_axis
from tapertread.report.svg import document, path, polyline_d, text
from tapertread.units import UnitSystem, curve_text

Floats = NDArray[np.float64]
WIDTH, HEIGHT = 440.0, 300.0
BOX = Box(x=48.0, y=44.0, width=376.0, height=188.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveNeeds:
    """What a curve asks of a pairing and how it answers, computed elsewhere.

    Attributes
    ----------
    curve_radius_m : float
        > 0 turns right, ``inf`` straight.
    needed_difference_mm : float or None
        Rolling radius difference right - left for pure rolling, with its sign.
    equilibrium_shift_mm : float or None
        Shift (> 0 right) at which the pairing has it; ``None`` where it never does.
    free_shifts_mm : tuple of float or None
        Shifts between which no flange touches.
    """

    curve_radius_m: float = float("inf")
    needed_difference_mm: float | None = None
    equilibrium_shift_mm: float | None = None
    free_shifts_mm: tuple[float, float] | None = None


def difference_curve(
    table: ContactTable,
    needs: CurveNeeds | None = None,
    *,
    smoothed_mm: Floats | None = None,
    rolling_lines_mm: Sequence[tuple[float, bool]] = (),
    system: UnitSystem = "metric",
) -> str:
    """Return the rolling radius difference against shift, with what a curve needs of it.

    Parameters
    ----------
    table : ContactTable
        The pairing, rigid.
    needs : CurveNeeds, optional
        Needed difference, equilibrium and flange-free shifts to draw.
    smoothed_mm : ndarray, shape (shifts,), optional
        The difference with elastic contact, mm.
    rolling_lines_mm : sequence of (float, bool)
        Shifts where the difference is zero, and whether each is stable.
    system : {"metric", "us"}
        Units written.
    """
    needs = needs or CurveNeeds()
    difference = table.rolling_radius_difference_mm
    panel = _difference_panel(table, needs, system)
    shift = in_shown(table.shift_mm, "mm", system)
    parts = [axes(panel), _flange_zones(panel, needs, system), _zero(panel)]
    parts.append(line(panel, shift, in_shown(difference, "mm", system), role="wheel", width=2.4))
    if smoothed_mm is not None:
        smooth = in_shown(smoothed_mm, "mm", system)
        parts.append(line(panel, shift, smooth, role="rail", dash="dashed", width=1.8))
    parts.append(_needed(panel, needs, system, _along(panel, shift, difference, system)))
    parts.append(_rolling_lines(panel, rolling_lines_mm, system))
    parts.append(legend(_difference_keys(smoothed_mm, needs), x=2.0, y=292.0, width=WIDTH))
    return document(
        "Rolling radius difference against shift",
        _difference_told(table, needs, system),
        width=WIDTH,
        height=HEIGHT,
        parts=parts,
    )


def _difference_panel(table: ContactTable, needs: CurveNeeds, system: UnitSystem) -> Panel:
    shift = in_shown(table.shift_mm, "mm", system)
    along = fixed_axis(
        with_unit("shift of the axle, left − / right +", "mm", system),
        float(shift[0]),
        high=float(shift[-1]),
        about=9,
    )
    words = with_unit("rolling radius difference, right − left", "mm", system)
    up = axis(words, in_shown(_worth_seeing(table, needs), "mm", system), include=[0.0], margin=0.1)
    return Panel(box=BOX, along=along, up=up)


def _worth_seeing(table: ContactTable, needs: CurveNeeds) -> Floats:
    """Return the differences the axis must hold: beyond the flange's first touch they run away."""
    difference = table.rolling_radius_difference_mm
    low, high = needs.free_shifts_mm or (-np.inf, np.inf)
    free = (table.shift_mm >= low) & (table.shift_mm <= high)
    tread = np.abs(difference[free & np.isfinite(difference)])
    usual = float(np.percentile(tread, 80.0)) if tread.size else 0.0
    largest = 1.7 * max(abs(needs.needed_difference_mm or 0.0), usual, 0.5)
    return np.array([-largest, largest])


def _zero(panel: Panel) -> str:
    return level(panel, 0.0, words="", role="soft", dash="solid")


def _flange_zones(panel: Panel, needs: CurveNeeds, system: UnitSystem) -> str:
    if needs.free_shifts_mm is None:
        return ""
    low, high = (float(in_shown(v, "mm", system)) for v in needs.free_shifts_mm)
    zones = ((panel.along.low, low), (high, panel.along.high))
    return "".join(_flange_zone(panel, a, b) for a, b in zones if b > a)


def _flange_zone(panel: Panel, start: float, stop: float) -> str:
    low, high = ([v, v] for v in (panel.up.low, panel.up.high))
    shade = band(panel, [start, stop], low, high=high, role="rail", opacity=0.12)
    if float(panel.x(stop) - panel.x(start)) < 44.0:
        return shade
    middle = float(panel.x(0.5 * (start + stop)))
    return shade + text(
        middle, BOX.bottom - 8, words="flange", role="rail", size=11, anchor="middle"
    )


def _along(panel: Panel, shift: Floats, difference: Floats, system: UnitSystem) -> list[Box]:
    """Return small boxes along the curve, so that words keep off it."""
    good = np.isfinite(difference)
    x, y = panel.x(shift[good]), panel.y(in_shown(difference[good], "mm", system))
    return [Box(x=a - 5, y=b - 4, width=10, height=8) for a, b in zip(x, y, strict=True)]


def _needed(panel: Panel, needs: CurveNeeds, system: UnitSystem, curve_boxes: Sequence[Box]) -> str:
    if needs.needed_difference_mm is None:
        return ""
    value = float(in_shown(needs.needed_difference_mm, "mm", system))
    curve = curve_text(needs.curve_radius_m, system=system)
    size = mm_text(needs.needed_difference_mm, system)
    parts = [
        level(
            panel,
            value,
            words=f"needed {size} ({curve})",
            role="needed",
            at_end=value < 0,
            below=value < 0,
        )
    ]
    if needs.equilibrium_shift_mm is not None:
        at = float(in_shown(needs.equilibrium_shift_mm, "mm", system))
        x, y = panel.at(at, value)
        parts.append(points(panel, [at], [value], shape="diamond", role="needed"))
        words = f"rolls free at {mm_text(needs.equilibrium_shift_mm, system)}"
        zero = float(panel.y(0.0))
        taken = [Box(x=BOX.x, y=at_y - 17, width=BOX.width, height=36) for at_y in (y, zero)]
        taken += curve_boxes
        parts.append(labels([Note(x=x, y=y, words=words, role="needed")], within=BOX, avoid=taken))
    return "".join(parts)


def _rolling_lines(panel: Panel, lines: Sequence[tuple[float, bool]], system: UnitSystem) -> str:
    parts = []
    for shift, stable in lines:
        at = float(in_shown(shift, "mm", system))
        shape: Shape = "disc" if stable else "cross"
        parts.append(points(panel, [at], [0.0], shape=shape, role="contact", hollow=True))
    return "".join(parts)


def _difference_keys(smoothed: Floats | None, needs: CurveNeeds) -> list[Key]:
    keys = [Key(words="rigid", role="wheel", dash="solid")]
    if smoothed is not None:
        keys.append(Key(words="elastic", role="rail", dash="dashed"))
    if needs.needed_difference_mm is not None:
        keys.append(Key(words="needed", role="needed", dash="dashed"))
    if needs.free_shifts_mm is not None:
        keys.append(Key(words="flange touches", role="rail", filled=True))
    return keys


def _difference_told(table: ContactTable, needs: CurveNeeds, system: UnitSystem) -> str:
    values = in_shown(table.rolling_radius_difference_mm, "mm", system)
    told = f"The difference runs over {plain_range(values.tolist())} within the shifts shown."
    if needs.needed_difference_mm is not None:
        told += f" Needed: {mm_text(needs.needed_difference_mm, system)}."
        told += (
            " The pairing never has it."
            if needs.equilibrium_shift_mm is None
            else f" It has it at a shift of {mm_text(needs.equilibrium_shift_mm, system)}."
        )
    return told


class ConicityLike(Protocol):
    """Conicity against amplitude, as the contact room returns it."""

    @property
    def amplitude_mm(self) -> Floats:
        """Amplitudes, mm."""

    @property
    def value(self) -> Floats:
        """By the period of the wave; NaN where undefined."""

    @property
    def harmonic(self) -> Floats:
        """By harmonic linearisation; NaN where undefined."""


def conicity_curve(
    curve: ConicityLike,
    *,
    standard_amplitude_mm: float | None = None,
    system: UnitSystem = "metric",
) -> str:
    """Return equivalent conicity against amplitude, by period and by harmonic linearisation."""
    amplitude = in_shown(curve.amplitude_mm, "mm", system)
    value, harmonic = np.asarray(curve.value, float), np.asarray(curve.harmonic, float)
    panel = Panel(
        box=BOX,
        along=axis(with_unit("amplitude of the wave", "mm", system), amplitude, include=[0.0]),
        up=axis("equivalent conicity", np.append(value, harmonic), include=[0.0], margin=0.08)
        if np.isfinite(np.append(value, harmonic)).any()
        else fixed_axis("equivalent conicity", 0.0, high=1.0),
    )
    parts = [axes(panel)]
    parts.append(line(panel, amplitude, harmonic, role="rail", dash="dashed", width=1.6))
    parts.append(points(panel, amplitude, harmonic, shape="square", role="rail", hollow=True))
    parts.append(line(panel, amplitude, value, role="wheel", width=2.4))
    parts.append(points(panel, amplitude, value, shape="disc", role="wheel"))
    if standard_amplitude_mm is not None:
        at = float(in_shown(standard_amplitude_mm, "mm", system))
        parts.append(upright(panel, at, role="needed"))
        parts.append(
            text(float(panel.x(at)) + 5, BOX.y + 14, words="by clearance", role="needed", size=11)
        )
    if not np.isfinite(value).any():
        parts.append(text(BOX.x + BOX.width / 2, BOX.y + 90, words="not assessed", anchor="middle"))
    keys = [
        Key(words="by period", role="wheel", dash="solid", shape="disc"),
        Key(words="by harmonic", role="rail", dash="dashed", shape="square", hollow=True),
    ]
    parts.append(legend(keys, x=2.0, y=292.0, width=WIDTH))
    by_period, by_harmonic = (plain_range(v.tolist(), 3) for v in (value, harmonic))
    told = f"By period {by_period}, by harmonic {by_harmonic}."
    return document(
        "Equivalent conicity against amplitude", told, width=WIDTH, height=HEIGHT, parts=parts
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLook:
    """How left and right are told apart, without colour."""

    name: str
    role: Role
    dash: Dash
    shape: Shape


LOOKS = (
    SideLook(name="left", role="wheel", dash="solid", shape="left"),
    SideLook(name="right", role="rail", dash="dashed", shape="right"),
)


def contact_places(table: ContactTable, *, system: UnitSystem = "metric") -> str:
    """Return where the contact lies on railhead and tread at every shift; jumps stay open.

    Each side is drawn over its own outline, field side to the right.
    """
    halves = []
    for title, body, x in (("on the railhead", "rail", 48.0), ("on the tread", "wheel", 508.0)):
        halves.append(_places_half(table, title, body, x, system))
    keys = [Key(words=s.name, role=s.role, dash=s.dash, shape=s.shape) for s in LOOKS]
    told = " ".join(
        f"{s.name.capitalize()}: rail {plain_range(table.side(s.name).rail_y_mm.tolist(), 1)} mm, "
        f"wheel {plain_range(table.side(s.name).wheel_y_mm.tolist(), 1)} mm."
        for s in LOOKS
    )
    return document(
        "Contact places by shift",
        told,
        width=900.0,
        height=402.0,
        parts=[*halves, legend(keys, x=2.0, y=394.0, width=900.0)],
    )


def _places_half(table: ContactTable, title: str, body: str, x: float, system: UnitSystem) -> str:
    outline = table.track.right if body == "rail" else table.wheelset.right
    span = (-42.0, 42.0) if body == "rail" else (-58.0, 58.0)
    along = fixed_axis(
        with_unit("outward, gauge side − / field side +", "mm", system),
        float(in_shown(span[0], "mm", system)),
        high=float(in_shown(span[1], "mm", system)),
        about=7,
    )
    shift = in_shown(table.shift_mm, "mm", system)
    up = fixed_axis(
        f"{title}: {with_unit('shift', 'mm', system)}", float(shift[0]), high=float(shift[-1])
    )
    panel = Panel(box=Box(x=x, y=26.0, width=376.0, height=196.0), along=along, up=up)
    below = Box(x=x, y=262.0, width=376.0, height=106.0)
    parts = [axes(panel), _outline_below(panel, below, outline.y_mm, outline.z_mm, body, system)]
    for look in LOOKS:
        place = _place(table.side(look.name), body)
        shown_place = in_shown(place, "mm", system)
        jump = np.abs(np.diff(place, prepend=place[0])) > 2.5
        joined = np.where(jump, np.nan, shown_place)
        parts.append(line(panel, joined, shift, role=look.role, dash=look.dash, width=1.4))
        step = slice(None, None, max(1, table.shift_mm.size // 16))
        parts.append(
            points(panel, shown_place[step], shift[step], shape=look.shape, role=look.role)
        )
    return "".join(parts)


def _place(contacts: SideContacts, body: str) -> Floats:
    return contacts.rail_y_mm if body == "rail" else contacts.wheel_y_mm


def _outline_below(
    panel: Panel, box: Box, y: Floats, z: Floats, body: str, system: UnitSystem
) -> str:
    """Return the outline under a panel with the same places along, same scale down."""
    scale = box.width / (panel.along.high - panel.along.low)
    lengths = in_shown(z, "mm", system)
    top = box.y + (6.0 if body == "rail" else 14.0)
    places = panel.x(in_shown(y, "mm", system))
    d = polyline_d(places, top - lengths * scale)
    role: Role = "rail" if body == "rail" else "wheel"
    return clipped(box, [path(d, stroke=role, width=1.8)])


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeSweep:
    """Conicity over a range of gauges, one row per inclination.

    Attributes
    ----------
    gauge_mm : ndarray, shape (g,)
        Gauges.
    inclinations : tuple of str
        Names such as ``1:40``.
    conicity : ndarray, shape (i, g)
        NaN where undefined.
    from_mm, to_mm : float
        Range in which the gauge is believed to lie.
    """

    gauge_mm: Floats
    inclinations: tuple[str, ...]
    conicity: Floats
    from_mm: float
    to_mm: float


_SWEEP_LOOKS: tuple[tuple[Role, Dash, Shape], ...] = (
    ("wheel", "solid", "disc"),
    ("rail", "dashed", "square"),
    ("needed", "long", "diamond"),
    ("soft", "dotted", "triangle"),
)


def gauge_band(
    sweep: GaugeSweep, *, limit: float | None = None, system: UnitSystem = "metric"
) -> str:
    """Return conicity against gauge for several inclinations, with the range of belief shaded."""
    gauge = in_shown(sweep.gauge_mm, "mm", system)
    extra = [0.0] if limit is None else [0.0, limit]
    panel = Panel(
        box=BOX,
        along=axis(with_unit("gauge", "mm", system), gauge, margin=0.0),
        up=_conicity_axis(sweep.conicity, extra),
    )
    believed = [float(in_shown(v, "mm", system)) for v in (sweep.from_mm, sweep.to_mm)]
    ends = ([panel.up.low] * 2, [panel.up.high] * 2)
    parts = [axes(panel), band(panel, believed, ends[0], high=ends[1], role="soft", opacity=0.16)]
    keys = [Key(words="gauge not known closer", role="soft", filled=True)]
    for name, values, look in zip(sweep.inclinations, sweep.conicity, _SWEEP_LOOKS, strict=False):
        role, dash, shape = look
        parts.append(line(panel, gauge, values, role=role, dash=dash))
        every = slice(None, None, max(1, gauge.size // 8))
        parts.append(points(panel, gauge[every], values[every], shape=shape, role=role))
        keys.append(Key(words=name, role=role, dash=dash, shape=shape))
    if limit is not None:
        parts.append(level(panel, limit, words="limit", role="out"))
    parts.append(legend(keys, x=2.0, y=284.0, width=WIDTH))
    inside = (sweep.gauge_mm >= sweep.from_mm) & (sweep.gauge_mm <= sweep.to_mm)
    found = plain_range(np.ravel(sweep.conicity[:, inside]).tolist(), 3)
    told = f"Within the range believed the conicity is {found}."
    return document(
        "Conicity by gauge and inclination", told, width=WIDTH, height=306.0, parts=parts
    )


def _conicity_axis(values: Floats, extra: list[float]) -> Axis:
    if not np.isfinite(values).any():
        return fixed_axis("equivalent conicity", 0.0, high=1.0)
    return axis("equivalent conicity", values, include=extra, margin=0.08)
