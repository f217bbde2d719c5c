"""Writing SVG: escaped text, short numbers, paths, theme colours. Everything returns strings."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from html import escape

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.limits.verdicts import Word
from tapertread.report.palette import FONT, GLYPH_WIDTH, LIGHT, MARKS, Role

Floats = NDArray[np.float64]


def number(value: float) -> str:
    """Return a coordinate with at most two digits after the point and no needless character."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def tag(name: str, *children: str, **attributes: object) -> str:
    """Return an element; ``_`` in attribute names becomes ``-``, values are escaped.

    Children are markup already; text goes through `text`, which escapes it.
    """
    parts = []
    for key, value in attributes.items():
        if value is None or value == "":
            continue
        shown = number(value) if isinstance(value, float) else str(value)
        parts.append(f' {key.rstrip("_").replace("_", "-")}="{escape(shown)}"')
    inside = "".join(children)
    head = f"<{name}{''.join(parts)}"
    return f"{head}>{inside}</{name}>" if inside else f"{head}/>"


def paint(
    *, fill: Role | None = None, stroke: Role | None = None, width: float = 1.5
) -> dict[str, object]:
    """Return the attributes that colour an element by role, for pages and stand-alone pictures."""
    classes = [f"f-{fill}"] * bool(fill) + [f"s-{stroke}"] * bool(stroke)
    attributes: dict[str, object] = {"class_": " ".join(classes)}
    attributes["fill"] = LIGHT[fill] if fill else "none"
    if stroke:
        attributes["stroke"] = LIGHT[stroke]
        attributes["stroke_width"] = width
    return attributes


def path(d: str, *, fill: Role | None = None, stroke: Role | None = None, **more: object) -> str:
    """Return a path coloured by role; ``width`` is the stroke width."""
    width = more.pop("width", 1.5)
    colours = paint(fill=fill, stroke=stroke, width=float(str(width)))
    return tag("path", d=d, **colours, **more) if d else ""


def rectangle(
    x: float, y: float, *, width: float, height: float, fill: Role, **more: object
) -> str:
    """Return a filled rectangle."""
    return tag("rect", x=x, y=y, width=width, height=height, **paint(fill=fill), **more)


def text(
    x: float,
    y: float,
    *,
    words: str,
    role: Role = "ink",
    size: float = 12.0,
    anchor: str = "start",
    halo: bool = False,
    **more: object,
) -> str:
    """Return one line of escaped text; a halo of paper colour keeps it readable on lines."""
    colours = paint(fill=role)
    if halo:
        colours = paint(fill=role, stroke="paper", width=3.5)
        colours["paint_order"] = "stroke"
        colours["stroke_linejoin"] = "round"
    place = None if anchor == "start" else anchor
    return tag(
        "text", escape(words, quote=False), x=x, y=y, font_size=size, text_anchor=place,
        **colours, **more,
    )  # fmt: skip


def text_width(words: str, size: float = 12.0) -> float:
    """Return the width that a line of text needs at most, in user units."""
    return GLYPH_WIDTH * size * len(words)


def polyline_d(x: ArrayLike, y: ArrayLike, *, tolerance: float = 0.12) -> str:
    """Return the path data of a line through points; gaps (NaN) lift the pen.

    Points that move the line by less than `tolerance` (user units) are left out.
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    good = np.isfinite(xs) & np.isfinite(ys)
    pieces = []
    for run in _runs(good):
        keep = simplified(xs[run], ys[run], tolerance=tolerance)
        pieces.append(_moves(xs[run][keep], ys[run][keep]))
    return "".join(pieces)


def polygon_d(x: ArrayLike, y: ArrayLike, *, tolerance: float = 0.12) -> str:
    """Return the path data of a closed shape through finite points."""
    d = polyline_d(x, y, tolerance=tolerance)
    return f"{d}z" if d else ""


def _runs(good: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    where = np.nonzero(good)[0]
    if where.size == 0:
        return []
    return np.split(where, np.nonzero(np.diff(where) > 1)[0] + 1)


def _moves(x: Floats, y: Floats) -> str:
    """Write absolute start and relative steps, rounded so that errors do not add up."""
    rounded = np.round(np.column_stack((x, y)), 1)
    steps = np.diff(rounded, axis=0)
    head = f"M{number(rounded[0, 0])} {number(rounded[0, 1])}"
    tail = " ".join(f"{number(dx)} {number(dy)}" for dx, dy in steps)
    return f"{head}l{tail}" if tail else f"{head}h0"


def simplified(x: Floats, y: Floats, *, tolerance: float) -> NDArray[np.intp]:
    """Return the indices to keep so that no left-out point lies further off than `tolerance`.

    Recursive halving at the farthest point [ramer-1972].
    """
    keep = np.zeros(x.size, dtype=np.bool_)
    keep[[0, -1]] = True
    stack = [(0, x.size - 1)]
    while stack:
        first, last = stack.pop()
        if last - first < 2:
            continue
        off = _distance(x, y, first, last)
        far = int(np.argmax(off))
        if off[far] > tolerance:
            middle = first + 1 + far
            keep[middle] = True
            stack += [(first, middle), (middle, last)]
    return np.nonzero(keep)[0]


def _distance(x: Floats, y: Floats, first: int, last: int) -> Floats:
    """Return distances of the points in between from the straight piece that would replace them."""
    dx, dy = x[last] - x[first], y[last] - y[first]
    px, py = x[first + 1 : last] - x[first], y[first + 1 : last] - y[first]
    square = float(dx * dx + dy * dy)
    share = np.clip((px * dx + py * dy) / square, 0.0, 1.0) if square > 0.0 else 0.0
    off: Floats = np.hypot(px - share * dx, py - share * dy)
    return off


def verdict_marks(places: Iterable[tuple[float, float]], *, word: Word, size: float = 12.0) -> str:
    """Return the mark of a verdict word, `size` wide, at every place, as one path."""
    mark, scale = MARKS[word], size / 12.0
    colours = (
        paint(fill="paper", stroke=mark.role, width=2.4)
        if mark.hollow
        else {**paint(fill=mark.role), "fill_rule": "evenodd"}
    )
    d = "".join(f"M{number(x / scale)} {number(y / scale)}{mark.path}" for x, y in places)
    grow = None if scale == 1.0 else f"scale({scale:.6g})"
    return tag("path", d=d, transform=grow, **colours) if d else ""


def verdict_mark(x: float, y: float, *, word: Word, size: float = 12.0) -> str:
    """Return the mark of a verdict word, `size` wide, centred on one place."""
    return verdict_marks([(x, y)], word=word, size=size)


def document(
    title: str, description: str, *, width: float, height: float, parts: Iterable[str]
) -> str:
    """Return a whole picture with its name and description for those who do not see it.

    Parameters
    ----------
    title, description : str
        Name and what the picture shows, with its main numbers, in plain sentences.
    width, height : float
        Size in user units; the picture scales with its page.
    parts : iterable of str
        Markup in drawing order.
    """
    body = "".join(parts)
    name = hashlib.sha256(f"{title}{description}{body}".encode()).hexdigest()[:10]
    return tag(
        "svg",
        tag("title", escape(title, quote=False), id=f"t{name}"),
        tag("desc", escape(description, quote=False), id=f"d{name}"),
        body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=number(width),
        height=number(height),
        role="img",
        aria_labelledby=f"t{name} d{name}",
        font_family=FONT,
        stroke_linecap="round",
        stroke_linejoin="round",
    )
