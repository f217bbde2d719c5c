"""The line along its length: aligned strips over one distance axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tapertread.limits.verdicts import Limit
from tapertread.report.figures.curves import LOOKS
from tapertread.report.figures.words import (
    curve_words,
    in_shown,
    measure_unit,
    measure_words,
    with_unit,
)
from tapertread.report.inputs import SectionLike, StretchLike
from tapertread.report.plots import (
    Key,
    Note,
    along_numbers,
    axes,
    band,
    labels,
    legend,
    level,
    line,
    points,
    spread,
    steps,
    verdict_legend,
)
from tapertread.report.scales import Axis, Box, Panel, axis, fixed_axis
from tapertread.report.svg import document, text, verdict_mark
from tapertread.units import UnitSystem

WIDTH, LEFT, RIGHT = 900.0, 58.0, 12.0
STRIP, GAP = 62.0, 30.0
MEASURE_STRIPS = ("vertical_wear_mm", "side_wear_mm", "equivalent_conicity", "steering_share")


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePicture:
    """What the strips show of one line.

    Attributes
    ----------
    stretches : sequence of StretchLike
        The line, piece by piece, in order.
    sections : sequence of SectionLike
        Where it was measured.
    measures : tuple of str
        Measures to draw, one strip each; those that no section has are left out.
    limits : sequence of Limit
        Those of these measures are drawn as lines.
    """

    stretches: Sequence[StretchLike]
    sections: Sequence[SectionLike]
    measures: tuple[str, ...] = MEASURE_STRIPS
    limits: Sequence[Limit] = ()


def line_strips(picture: LinePicture, *, system: UnitSystem = "metric") -> str:
    """Return curvature, cant, speed, verdicts and measures of a line over its distance.

    Raises
    ------
    ValueError
        If there is no stretch of line to draw.
    """
    if not picture.stretches:
        raise ValueError("a line without stretches cannot be drawn")
    names = [m for m in picture.measures if _has(picture, m)]
    count = 4 + len(names)
    boxes = [
        Box(x=LEFT, y=26.0 + k * (STRIP + GAP), width=WIDTH - LEFT - RIGHT, height=STRIP)
        for k in range(count)
    ]
    along = _distance_axis(picture, system)
    parts = [
        _curvature(picture, along, boxes[0], system),
        _cant(picture, along, boxes[1], system),
        _speed(picture, along, boxes[2], system),
        _verdicts(picture, along, boxes[3], system),
    ]
    parts += [
        _measure(picture, name, along, box, system)
        for name, box in zip(names, boxes[4:], strict=True)
    ]
    foot = boxes[-1].bottom + 58
    parts.append(along_numbers(Panel(box=boxes[-1], along=along, up=along)))
    words = [s.word for s in picture.sections]
    parts.append(verdict_legend(words, x=LEFT + 220.0, y=foot))
    keys = [Key(words=f"{s.name} rail", role=s.role, shape=s.shape) for s in LOOKS]
    parts.append(legend(keys, x=LEFT, y=foot, width=WIDTH - LEFT))
    return document(
        f"{picture.stretches[0].line}: the line along its length",
        _told(picture),
        width=WIDTH,
        height=foot + 8,
        parts=parts,
    )


def _has(picture: LinePicture, name: str) -> bool:
    return any(key.partition(".")[0] == name for s in picture.sections for key in s.measures)


def _distance_axis(picture: LinePicture, system: UnitSystem) -> Axis:
    ends = in_shown([picture.stretches[0].start_km, picture.stretches[-1].end_km], "km", system)
    label = with_unit("distance along the line", "km", system)
    return fixed_axis(label, float(ends[0]), high=float(ends[1]), about=10)


def _strip(along: Axis, up: Axis, box: Box) -> tuple[Panel, list[str]]:
    panel = Panel(box=box, along=along, up=up)
    return panel, [axes(panel, along=False)]


def _curvature(picture: LinePicture, along: Axis, box: Box, system: UnitSystem) -> str:
    at = [v for s in picture.stretches for v in (s.start_km, s.end_km)]
    bend = [
        v for s in picture.stretches for v in (s.start_curvature_per_km, s.end_curvature_per_km)
    ]
    largest = max(0.5, float(np.max(np.abs(bend))) * 1.25)
    up = fixed_axis("curvature, 1/km, right up, left down", -largest, high=largest, about=5)
    panel, parts = _strip(along, up, box)
    distance = in_shown(at, "km", system)
    parts.append(level(panel, 0.0, words="", role="soft", dash="solid"))
    parts.append(line(panel, distance, bend, role="ink", width=1.6))
    parts.append(_radii(picture, panel, system))
    return "".join(parts)


def _radii(picture: LinePicture, panel: Panel, system: UnitSystem) -> str:
    """Write the size of each curve body inside its strip, sharpest first, where there is room."""
    curves = [
        s
        for s in picture.stretches
        if s.start_curvature_per_km == s.end_curvature_per_km and s.start_curvature_per_km != 0.0
    ]
    curves.sort(key=lambda s: -abs(s.start_curvature_per_km))
    notes: list[Note] = []
    for curve in curves[:14]:
        middle = float(in_shown(0.5 * (curve.start_km + curve.end_km), "km", system))
        x = float(panel.x(middle))
        y = float(panel.y(0.0)) + (15.0 if curve.start_curvature_per_km > 0 else -8.0)
        words = curve_words(curve.start_curvature_per_km, system)
        half = 3.6 * len(words)
        if all(abs(x - n.x) > half + 3.6 * len(n.words) for n in notes):
            notes.append(Note(x=x, y=y, words=words))
    return "".join(
        text(n.x, n.y, words=n.words, role="soft", size=11, anchor="middle", halo=True)
        for n in notes
    )


def _edges(picture: LinePicture, system: UnitSystem) -> tuple[list[float], list[float]]:
    starts = in_shown([s.start_km for s in picture.stretches], "km", system).tolist()
    ends = in_shown([s.end_km for s in picture.stretches], "km", system).tolist()
    return starts, ends


def _cant(picture: LinePicture, along: Axis, box: Box, system: UnitSystem) -> str:
    at = in_shown([v for s in picture.stretches for v in (s.start_km, s.end_km)], "km", system)
    ends = [v for s in picture.stretches for v in (s.start_cant_mm, s.end_cant_mm)]
    cant = in_shown(ends, "mm", system)
    up = axis(with_unit("cant", "mm", system), cant, include=[0.0], about=3, margin=0.06)
    panel, parts = _strip(along, up, box)
    parts.append(band(panel, at, np.zeros_like(cant), high=cant, role="soft", opacity=0.45))
    return "".join(parts)


def _speed(picture: LinePicture, along: Axis, box: Box, system: UnitSystem) -> str:
    speed = in_shown([s.speed_kmh for s in picture.stretches], "kmh", system)
    up = axis(with_unit("speed", "kmh", system), speed, include=[0.0], about=3, margin=0.06)
    panel, parts = _strip(along, up, box)
    starts, ends = _edges(picture, system)
    parts.append(steps(panel, [*starts, ends[-1]], speed, role="ink"))
    return "".join(parts)


def _verdicts(picture: LinePicture, along: Axis, box: Box, system: UnitSystem) -> str:
    """Draw the marks of the sections in a row; neighbours too close step down."""
    panel, parts = _strip(along, Axis(label="verdict of sections", low=0, high=1, ticks=()), box)
    low = [-1e9, -1e9, -1e9]
    names: list[Note] = []
    for section in sorted(picture.sections, key=lambda s: s.distance_km):
        x = float(panel.x(in_shown(section.distance_km, "km", system)))
        row = next((k for k in range(3) if x - low[k] > 13.5), int(np.argmin(low)))
        low[row] = x
        parts.append(verdict_mark(x, box.y + 11 + 14 * row, word=section.word, size=11))
        if section.word.gravity <= 1:
            names.append(Note(x=x, y=box.y + 44, words=section.section))
    parts.append(labels(names, within=Box(x=box.x, y=box.y + 34, width=box.width, height=38)))
    return "".join(parts)


def _measure(picture: LinePicture, name: str, along: Axis, box: Box, system: UnitSystem) -> str:
    unit = measure_unit(name)
    rows = _rows(picture, name, system)
    values = [end for _, _, v, half in rows for end in (v - half, v + half)]
    limits = [v for v in picture.limits if v.quantity == name and v.level == "limit"]
    bound = [float(in_shown(v.value, unit, system)) for v in limits]
    label = with_unit(measure_words(name), unit, system)
    up = axis(label, values, include=[0.0, *bound], about=3, margin=0.1)
    panel, parts = _strip(along, up, box)
    parts += [level(panel, v, words="limit", role="out") for v in sorted(set(bound))]
    for look in LOOKS:
        mine = [r for r in rows if r[0] in (look.name, "")]
        if not mine:
            continue
        x, y, half = ([r[k] for r in mine] for k in (1, 2, 3))
        parts.append(spread(panel, x, y, half=half, role=look.role))
        parts.append(
            points(panel, x, y, shape=look.shape if mine[0][0] else "disc", role=look.role)
        )
        if not mine[0][0]:
            break
    return "".join(parts)


def _rows(
    picture: LinePicture, name: str, system: UnitSystem
) -> list[tuple[str, float, float, float]]:
    """Return side, distance, value and expanded uncertainty of one measure, in shown units."""
    unit = measure_unit(name)
    rows = []
    for section in picture.sections:
        distance = float(in_shown(section.distance_km, "km", system))
        for key, measured in section.measures.items():
            base, _, side = key.partition(".")
            if base == name and measured.value is not None:
                value = float(in_shown(measured.value, unit, system))
                half = float(in_shown(measured.expanded or 0.0, unit, system))
                rows.append((side, distance, value, half))
    return rows


def _told(picture: LinePicture) -> str:
    sharpest = max(
        abs(v)
        for s in picture.stretches
        for v in (s.start_curvature_per_km, s.end_curvature_per_km)
    )
    curve = f"sharpest curve {1000.0 / sharpest:.0f} m" if sharpest > 0 else "no curve"
    words: dict[str, int] = {}
    for section in picture.sections:
        words[section.word.value] = words.get(section.word.value, 0) + 1
    counts = ", ".join(f"{n} {w}" for w, n in sorted(words.items()))
    length = picture.stretches[-1].end_km - picture.stretches[0].start_km
    return f"{length:.1f} km of line, {curve}; sections: {counts or 'none measured'}."
