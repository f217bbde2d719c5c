"""One self-contained page from a document: no network, no foreign fonts, nothing unescaped.

The page allows exactly its own style sheet and its own script, both by hash, and nothing else; so
even text that slipped through could neither load nor run anything. It is whole without the script,
which only offers sorting, filtering and the other system of units.
"""

from __future__ import annotations

import base64
import hashlib
import os
import xml.etree.ElementTree as ET
from collections import Counter
from functools import cache
from importlib.resources import files
from pathlib import Path

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from tapertread.limits.verdicts import Word
from tapertread.report.document import Document, LimitShown, Noted, Quantity
from tapertread.report.palette import DARK, LIGHT, MARKS, picture_css, theme_css
from tapertread.report.svg import tag, verdict_mark
from tapertread.report.values import limit_place, limit_text, quantity_text, status_text
from tapertread.units import UnitSystem, shown

SYSTEMS: tuple[UnitSystem, UnitSystem] = ("metric", "us")
PICTURE_ELEMENTS = frozenset(
    ("svg", "title", "desc", "g", "path", "rect", "line", "circle", "text", "tspan")
)
"""All that a picture may hold; no script, link, image, style or foreign content."""

_SVG = "{http://www.w3.org/2000/svg}"


def page(document: Document) -> str:
    """Return a document as one HTML page.

    Raises
    ------
    ValueError
        If a picture holds anything but plain drawing elements.
    """
    style, script = _style(), _template("report.js")
    return _environment().get_template("report.html.j2").render(
        document=document,
        style=Markup(style),
        script=Markup(script),
        policy=policy(style, script),
        placed=Placing(),
    )  # fmt: skip


def write_html(document: Document, path: Path) -> Path:
    """Write a document as one HTML file, whole or not at all, and return its path.

    Raises
    ------
    ValueError
        If a picture holds anything but plain drawing elements.
    OSError
        If the file cannot be written.
    """
    text = page(document)
    part = path.with_name(f"{path.name}.part")
    part.write_text(text, encoding="utf-8", newline="\n")
    os.replace(part, path)
    return path


def policy(style: str, script: str) -> str:
    """Return the content security policy of a page with this one style sheet and this one script.

    Hashes as the policy's source lists want them [csp-level-3].
    """
    hashes = [
        base64.b64encode(hashlib.sha256(part.encode()).digest()).decode()
        for part in (style, script)
    ]
    return (
        f"default-src 'none'; style-src 'sha256-{hashes[0]}'; script-src 'sha256-{hashes[1]}'; "
        "base-uri 'none'; form-action 'none'"
    )


def picture(svg: str) -> Markup:
    """Return a picture as markup after making sure that it only draws.

    Raises
    ------
    ValueError
        If it is no well-formed SVG or holds an element or attribute that could load or run.
    """
    try:
        root = ET.fromstring(svg)
    except ET.ParseError as fault:
        raise ValueError(f"a picture is no well-formed SVG: {fault}") from fault
    for element in root.iter():
        name = element.tag.removeprefix(_SVG)
        if not element.tag.startswith(_SVG) or name not in PICTURE_ELEMENTS:
            raise ValueError(f"a picture holds the element {element.tag!r}")
        for attribute in element.attrib:
            if attribute.startswith("on") or attribute in ("style", "href") or "}" in attribute:
                raise ValueError(f"a picture holds the attribute {attribute!r}")
    return Markup(svg)  # every element and attribute was looked at above


class Placing:
    """Places the pictures of one page, so that one drawn twice does not name two things alike."""

    def __init__(self) -> None:
        self._names: Counter[str] = Counter()

    def __call__(self, svg: str) -> Markup:
        """Return a picture as markup with names of its own.

        Raises
        ------
        ValueError
            If the picture holds anything but plain drawing elements.
        """
        markup = picture(svg)
        labelled = ET.fromstring(svg).attrib.get("aria-labelledby", "")
        self._names[labelled] += 1
        count = self._names[labelled]
        if count == 1 or not labelled:
            return markup
        for name in labelled.split():
            markup = markup.replace(name, f"{name}-{count}")
        return markup


def mark(word: Word, size: int = 14) -> Markup:
    """Return the mark of a verdict word for running text; the word itself stands beside it."""
    return Markup(
        tag(
            "svg",
            verdict_mark(7.0, 7.0, word=word, size=12.5),
            class_="mark",
            viewBox="0 0 14 14",
            width=size,
            height=size,
            aria_hidden="true",
        )
    )


def in_systems(quantity: Quantity, *, bare: bool = False) -> list[tuple[str, str]]:
    """Return system and text of a quantity, once if it reads the same in both."""
    return _once([quantity_text(quantity, system=system, bare=bare) for system in SYSTEMS])


def limit_in_systems(shown_limit: LimitShown) -> list[tuple[str, str]]:
    """Return system and text of what a limit allows, once if it reads the same in both."""
    return _once([limit_text(shown_limit.limit, system=system) for system in SYSTEMS])


def unit_in_systems(unit: str) -> list[tuple[str, str]]:
    """Return system and unit label of a column, once if it is the same in both."""
    return _once([shown(unit, system).unit for system in SYSTEMS])


def _once(texts: list[str]) -> list[tuple[str, str]]:
    if len(set(texts)) == 1:
        return [("", texts[0])]
    return [(system, text) for system, text in zip(SYSTEMS, texts, strict=True)]


def sort_key(cell: object) -> str:
    """Return what a table sorts a cell by; empty for a missing value."""
    if isinstance(cell, Noted):
        return sort_key(cell.cell)
    if isinstance(cell, Word):
        return str(cell.gravity)
    if isinstance(cell, Quantity):
        return "" if cell.value is None else f"{cell.value:.9g}"
    if isinstance(cell, LimitShown):
        return f"{cell.limit.value:.9g}"
    return str(cell)


def cell_kind(cell: object) -> str:
    """Return which kind of cell it is: ``word``, ``quantity``, ``limit``, ``noted`` or ``text``."""
    kinds = ((Word, "word"), (Quantity, "quantity"), (LimitShown, "limit"), (Noted, "noted"))
    return next((name for kind, name in kinds if isinstance(cell, kind)), "text")


def _style() -> str:
    themes = (
        f":root{{{theme_css(LIGHT)}}}"
        "@media screen and (prefers-color-scheme:dark){:root{color-scheme:dark;"
        f"{theme_css(DARK)}}}}}"
    )
    words = "".join(f".w-{m.role}{{--word:var(--{m.role})}}" for m in MARKS.values())
    return f"{themes}{picture_css()}{words}{_template('report.css')}"


def _template(name: str) -> str:
    return files("tapertread.report").joinpath("templates", name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "mark": mark,
        "in_systems": in_systems,
        "limit_in_systems": limit_in_systems,
        "unit_in_systems": unit_in_systems,
        "limit_place": limit_place,
        "status_text": status_text,
        "sort_key": sort_key,
        "cell_kind": cell_kind,
        "role": lambda word: MARKS[word].role,
        "limit_shown": lambda limit: LimitShown(limit=limit),
    }
    return environment
