"""The drawing toolkit: axes, lines, bands, markers, bars, legends, labels that keep clear.

Every function is pure and returns SVG markup in the user units of its panel's paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from tapertread.limits.verdicts import Word
from tapertread.report.palette import Role
from tapertread.report.scales import Box, Panel
from tapertread.report.svg import (
    number,
    path,
    polygon_d,
    polyline_d,
    rectangle,
    tag,
    text,
    text_width,
    verdict_mark,
)

SMALL = 11.0
"""Type size of tick numbers and notes, user units."""

Shape = Literal["disc", "diamond", "square", "triangle", "left", "right", "cross"]

_SHAPES: dict[Shape, str] = {
    "disc": "m-3.6 0a3.6 3.6 0 1 0 7.2 0a3.6 3.6 0 1 0-7.2 0z",
    "diamond": "m0-4.6l4.6 4.6l-4.6 4.6l-4.6-4.6z",
    "square": "m-3.2-3.2h6.4v6.4h-6.4z",
    "triangle": "m0-4.4l4.2 7.6h-8.4z",
    "left": "m-4.2 0l7-4v8z",
    "right": "m4.2 0l-7-4v8z",
    "cross": "m-3.4-3.4l6.8 6.8m0-6.8l-6.8 6.8",
}
"""Outlines of markers, relative to their place; left and right point to their own side."""

Dash = Literal["solid", "dashed", "dotted", "long"]
_DASHES: dict[Dash, str] = {"solid": "", "dashed": "6 4", "dotted": "1 4", "long": "12 4"}


def clipped(box: Box, parts: Iterable[str]) -> str:
    """Return markup that is cut off at the edges of a box, places unchanged."""
    view = " ".join(number(v) for v in (box.x, box.y, box.width, box.height))
    return tag(
        "svg", *parts, x=box.x, y=box.y, width=box.width, height=box.height, viewBox=view
    )  # fmt: skip


def ground(box: Box) -> str:
    """Return the quiet ground of a panel."""
    return rectangle(box.x, box.y, width=box.width, height=box.height, fill="panel")


def axes(panel: Panel, *, along: bool = True) -> str:
    """Return ground, grid, numbers and labels of a panel; those along may be written elsewhere."""
    parts = [ground(panel.box), path(_grid_d(panel), stroke="grid", width=1.0)]
    if along:
        parts.append(along_numbers(panel))
    return "".join((*parts, _up_numbers(panel)))


def _grid_d(panel: Panel) -> str:
    box = panel.box
    across = [
        f"M{number(x)} {number(box.y)}v{number(box.height)}" for x in panel.x(panel.along.ticks)
    ]
    level = [f"M{number(box.x)} {number(y)}h{number(box.width)}" for y in panel.y(panel.up.ticks)]
    return "".join(across + level)


def along_numbers(panel: Panel) -> str:
    """Return tick numbers and label of the axis along, below a panel."""
    box, axis = panel.box, panel.along
    numbers = [
        text(x, box.bottom + 15, words=axis.tick_text(v), role="soft", size=SMALL, anchor="middle")
        for v, x in zip(axis.ticks, panel.x(axis.ticks).tolist(), strict=True)
    ]
    label = text(box.x + box.width / 2, box.bottom + 33, words=axis.label, anchor="middle")
    return "".join(numbers) + label


def _up_numbers(panel: Panel) -> str:
    box, axis = panel.box, panel.up
    numbers = [
        text(box.x - 7, y + 4, words=axis.tick_text(v), role="soft", size=SMALL, anchor="end")
        for v, y in zip(axis.ticks, panel.y(axis.ticks).tolist(), strict=True)
    ]
    return "".join(numbers) + text(box.x, box.y - 9, words=axis.label)


def line(
    panel: Panel,
    x: ArrayLike,
    y: ArrayLike,
    *,
    role: Role,
    width: float = 2.0,
    dash: Dash = "solid",
) -> str:
    """Return a line through points in the panel's quantities, cut off at its edges."""
    d = polyline_d(panel.x(x), panel.y(y))
    return clipped(
        panel.box, [path(d, stroke=role, width=width, stroke_dasharray=_DASHES[dash])]
    )  # fmt: skip


def steps(panel: Panel, edges: ArrayLike, values: ArrayLike, *, role: Role) -> str:
    """Return a step line: one value between each pair of edges (n + 1 edges, n values)."""
    at = np.repeat(np.asarray(edges, dtype=np.float64), 2)[1:-1]
    return line(panel, at, np.repeat(np.asarray(values, dtype=np.float64), 2), role=role)


def band(
    panel: Panel, x: ArrayLike, low: ArrayLike, *, high: ArrayLike, role: Role, opacity: float = 0.2
) -> str:
    """Return a filled band between two lines over the same places; NaN splits it."""
    xs, lows, highs = (np.asarray(v, dtype=np.float64) for v in (x, low, high))
    good = np.isfinite(xs) & np.isfinite(lows) & np.isfinite(highs)
    runs = np.split(np.arange(xs.size), np.nonzero(np.diff(good))[0] + 1)
    d = "".join(
        polygon_d(
            panel.x(np.concatenate((xs[r], xs[r][::-1]))),
            panel.y(np.concatenate((lows[r], highs[r][::-1]))),
        )
        for r in runs
        if r.size and good[r[0]]
    )
    return clipped(panel.box, [path(d, fill=role, fill_opacity=opacity)])


def bars(
    panel: Panel,
    starts: ArrayLike,
    stops: ArrayLike,
    *,
    values: ArrayLike,
    role: Role,
    opacity: float = 0.55,
) -> str:
    """Return bars from zero to each value, each between its own start and stop along."""
    left, right, top = panel.x(starts), panel.x(stops), panel.y(values)
    base = float(panel.y(0.0))
    d = "".join(
        f"M{number(a)} {number(base)}V{number(t)}H{number(b)}V{number(base)}z"
        for a, b, t in zip(left, right, top, strict=True)
        if np.isfinite(t) and abs(t - base) > 0.05
    )
    return clipped(panel.box, [path(d, fill=role, fill_opacity=opacity)])


def markers(
    x: ArrayLike,
    y: ArrayLike,
    *,
    shape: Shape,
    role: Role,
    hollow: bool = False,
    size: float = 8.0,
) -> str:
    """Return markers at places on paper as one path; places that are NaN are left out.

    `size` below 8 shrinks the stroke only; shapes keep one size, so that they stay readable.
    """
    places = zip(np.ravel(np.asarray(x)), np.ravel(np.asarray(y)), strict=True)
    d = "".join(
        f"M{number(px)} {number(py)}{_SHAPES[shape]}"
        for px, py in places
        if np.isfinite(px) and np.isfinite(py)
    )
    if shape == "cross":
        return path(d, stroke=role, width=2.0)
    if hollow:
        return path(d, fill="paper", stroke=role, width=1.6 if size >= 8.0 else 1.2)
    return path(d, fill=role)


def points(
    panel: Panel, x: ArrayLike, y: ArrayLike, *, shape: Shape, role: Role, hollow: bool = False
) -> str:
    """Return markers at points in the panel's quantities."""
    return markers(panel.x(x), panel.y(y), shape=shape, role=role, hollow=hollow)


def spread(panel: Panel, x: ArrayLike, y: ArrayLike, *, half: ArrayLike, role: Role) -> str:
    """Return uncertainty bars of half length `half` up and down from points; NaN has none."""
    xs = panel.x(x)
    values, halves = np.asarray(y, dtype=np.float64), np.asarray(half, dtype=np.float64)
    low, high = panel.y(values - halves), panel.y(values + halves)
    d = "".join(
        f"M{number(px)} {number(a)}V{number(b)}"
        for px, a, b in zip(np.ravel(xs), np.ravel(low), np.ravel(high), strict=True)
        if np.isfinite(px) and np.isfinite(a) and np.isfinite(b)
    )
    return clipped(panel.box, [path(d, stroke=role, width=1.4, stroke_opacity=0.65)])


def level(
    panel: Panel,
    value: float,
    *,
    words: str,
    role: Role,
    dash: Dash = "dashed",
    at_end: bool = True,
    below: bool = False,
) -> str:
    """Return a horizontal line across the panel with its name just above it, or below it."""
    x, y = panel.box.x, float(panel.y(value))
    if not panel.box.y - 0.5 <= y <= panel.box.bottom + 0.5:
        return ""
    rule = path(
        f"M{number(x)} {number(y)}h{number(panel.box.width)}",
        stroke=role,
        width=1.5,
        stroke_dasharray=_DASHES[dash],
    )
    below = below or y - panel.box.y < 18
    anchor, place = ("end", panel.box.right - 5) if at_end else ("start", x + 5)
    words_y = y + 14 if below else y - 5
    return rule + note_text(place, words_y, words=words, role=role, anchor=anchor)


def note_text(x: float, y: float, *, words: str, role: Role = "ink", anchor: str = "start") -> str:
    """Return a small line of text that stays readable on lines."""
    return text(x, y, words=words, role=role, size=SMALL, anchor=anchor, halo=True)


def upright(panel: Panel, value: float, *, role: Role, dash: Dash = "dashed") -> str:
    """Return a vertical line across the panel."""
    x = float(panel.x(value))
    if not panel.box.x - 0.5 <= x <= panel.box.right + 0.5:
        return ""
    d = f"M{number(x)} {number(panel.box.y)}v{number(panel.box.height)}"
    return path(d, stroke=role, width=1.2, stroke_dasharray=_DASHES[dash])


def arrow(
    start: tuple[float, float], stop: tuple[float, float], *, role: Role, width: float = 1.8
) -> str:
    """Return an arrow between two places on paper."""
    (x0, y0), (x1, y1) = start, stop
    length = max(1e-9, float(np.hypot(x1 - x0, y1 - y0)))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    back_x, back_y = x1 - 8 * ux, y1 - 8 * uy
    head = (
        f"M{number(x1)} {number(y1)}L{number(back_x - 3.2 * uy)} {number(back_y + 3.2 * ux)}"
        f"L{number(back_x + 3.2 * uy)} {number(back_y - 3.2 * ux)}z"
    )
    shaft = f"M{number(x0)} {number(y0)}L{number(back_x)} {number(back_y)}"
    return path(shaft, stroke=role, width=width) + path(head, fill=role)


def dimension(
    start: tuple[float, float], stop: tuple[float, float], *, words: str, role: Role = "soft"
) -> str:
    """Return a measuring line with short cross strokes at both ends and its value beside it."""
    (x0, y0), (x1, y1) = start, stop
    level_line = abs(y1 - y0) < abs(x1 - x0)
    stroke = "v8m0-4" if level_line else "h8m-4 0"
    move = "m0-4" if level_line else "m-4 0"
    d = (
        f"M{number(x0)} {number(y0)}{move}{stroke}L{number(x1)} {number(y1)}"
        f"M{number(x1)} {number(y1)}{move}{stroke}"
    )
    if level_line:
        label = text(
            (x0 + x1) / 2, y0 - 6, words=words, role=role, size=SMALL, anchor="middle", halo=True
        )
    else:
        label = text(x0 + 7, (y0 + y1) / 2 + 4, words=words, role=role, size=SMALL, halo=True)
    return path(d, stroke=role, width=1.2) + label


def scale_bar(panel: Panel, bar: tuple[float, str]) -> str:
    """Return a bar of a known length, with its words, in the lower right corner of a panel."""
    length, words = bar
    size = float(panel.x(length) - panel.x(0.0))
    x, y = panel.box.right - 10 - size, panel.box.bottom - 10
    d = f"M{number(x)} {number(y - 4)}v4h{number(size)}v-4"
    return path(d, stroke="soft", width=1.4) + text(
        x + size / 2, y - 6, words=words, role="soft", size=SMALL, anchor="middle", halo=True
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One entry of a legend: a line, a marker or both, and its name."""

    words: str
    role: Role
    dash: Dash | None = None
    shape: Shape | None = None
    hollow: bool = False
    filled: bool = False


def legend(keys: Sequence[Key], *, x: float, y: float, width: float) -> str:
    """Return a legend in rows from a place on, wrapped at `width` (user units)."""
    parts, left, top = [], x, y
    for key in keys:
        need = 30 + text_width(key.words, SMALL) + 14
        if left > x and left + need > x + width:
            left, top = x, top + 17
        parts.append(_key(key, left, top))
        left += need
    return "".join(parts)


def _key(key: Key, x: float, y: float) -> str:
    parts = []
    if key.filled:
        parts.append(rectangle(x, y - 9, width=22, height=10, fill=key.role, fill_opacity=0.25))
    if key.dash is not None:
        dash = _DASHES[key.dash]
        d = f"M{number(x)} {number(y - 4)}h22"
        parts.append(path(d, stroke=key.role, width=2.0, stroke_dasharray=dash))
    if key.shape is not None:
        parts.append(markers([x + 11], [y - 4], shape=key.shape, role=key.role, hollow=key.hollow))
    parts.append(text(x + 29, y, words=key.words, role="soft", size=SMALL))
    return "".join(parts)


def verdict_legend(words: Iterable[Word], *, x: float, y: float) -> str:
    """Return the marks of verdict words with the words beside them, gravest first."""
    parts, left = [], x
    for word in sorted(set(words), key=lambda w: w.gravity):
        parts.append(verdict_mark(left + 6, y - 4, word=word, size=11))
        parts.append(text(left + 17, y, words=word.value, role="soft", size=SMALL))
        left += 17 + text_width(word.value, SMALL) + 18
    return "".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A few words about one place on paper."""

    x: float
    y: float
    words: str
    role: Role = "ink"


_OFFSETS = [
    (dx, dy)
    for far in (0, 13, 26, 42)
    for dx, dy in ((8, -7), (8, 14), (-8, -7), (-8, 14), (0, -12), (0, 20))
    for dx, dy in ((dx, dy + (far if dy > 0 else -far)),)
]


def labels(notes: Sequence[Note], *, within: Box, avoid: Sequence[Box] = ()) -> str:
    """Return notes written near their places so that none covers another or leaves the box.

    Places are tried from near to far; a note moved far away gets a thin leader. One that fits
    nowhere is written at its nearest place all the same: words are never lost.
    """
    taken = list(avoid)
    parts = []
    for note in notes:
        options = [(_note_box(note, dx, dy), dx, dy) for dx, dy in _OFFSETS]
        fits = [o for o in options if within.holds(o[0]) and not any(o[0].meets(t) for t in taken)]
        box, dx, dy = (fits or options)[0]
        taken.append(box)
        parts.append(_note(note, dx, dy))
    return "".join(parts)


def _note_box(note: Note, dx: float, dy: float) -> Box:
    width = text_width(note.words, SMALL)
    left = note.x + dx - (width if dx < 0 else width / 2 if dx == 0 else 0.0)
    return Box(x=left, y=note.y + dy - 10, width=width, height=13)


def _note(note: Note, dx: float, dy: float) -> str:
    anchor = "end" if dx < 0 else "middle" if dx == 0 else "start"
    words = note_text(note.x + dx, note.y + dy, words=note.words, role=note.role, anchor=anchor)
    if abs(dy) < 22:
        return words
    end = note.y + dy + (4 if dy < 0 else -11)
    d = f"M{number(note.x)} {number(note.y)}L{number(note.x + dx)} {number(end)}"
    return path(d, stroke=note.role, width=0.8, stroke_opacity=0.6) + words


def beside(parts: Sequence[tuple[str, float, float]]) -> str:
    """Return pieces of markup moved to their own places (markup, x, y)."""
    return "".join(
        tag("g", markup, transform=f"translate({number(x)} {number(y)})") for markup, x, y in parts
    )


__all__ = [
    "SMALL", "Dash", "Key", "Note", "Shape", "along_numbers", "arrow", "axes", "band", "bars",
    "beside", "clipped", "dimension", "ground", "labels", "legend", "level", "line", "markers",
    "note_text", "points", "scale_bar", "spread", "steps", "upright", "verdict_legend",
]  # fmt: skip
