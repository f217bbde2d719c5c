"""Colours, marks and type of every picture and page: one place decides how things look.

A picture carries its light colours as plain attributes, so that it can stand alone and be printed;
a page that includes it overrides them by class, so that dark pages work too. Nothing is told by
colour alone: verdicts have a shape and a word, left and right have their own markers and dashes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tapertread.limits.verdicts import Word

Role = Literal[
    "paper",
    "panel",
    "ink",
    "soft",
    "grid",
    "wheel",
    "rail",
    "design",
    "contact",
    "needed",
    "sound",
    "watch",
    "act",
    "out",
    "again",
    "none",
]
"""What a colour is for; no picture names a colour otherwise."""

LIGHT: dict[Role, str] = {
    "paper": "#fcfdfc",
    "panel": "#eff3f2",
    "ink": "#17262e",
    "soft": "#4a5d66",
    "grid": "#d3dcdb",
    "wheel": "#0f5f93",
    "rail": "#9a4a12",
    "design": "#6d7d84",
    "contact": "#b3005c",
    "needed": "#5a3f9e",
    "sound": "#13745f",
    "watch": "#7d6300",
    "act": "#bb4700",
    "out": "#8f0d3c",
    "again": "#5546ab",
    "none": "#5f6e75",
}

DARK: dict[Role, str] = {
    "paper": "#10181c",
    "panel": "#19242a",
    "ink": "#e6eeee",
    "soft": "#a7b8be",
    "grid": "#31424a",
    "wheel": "#6cbcf2",
    "rail": "#f0a56b",
    "design": "#93a4ab",
    "contact": "#ff82bd",
    "needed": "#bfa8ff",
    "sound": "#55cdb2",
    "watch": "#e3c552",
    "act": "#ff9c57",
    "out": "#ff7d9c",
    "again": "#b3a8ff",
    "none": "#9dadb4",
}

FONT = "'Avenir Next', 'Segoe UI', 'Noto Sans', 'DejaVu Sans', Verdana, sans-serif"
GLYPH_WIDTH = 0.60
"""Mean width of a character as a share of the type size, wide enough for every font of `FONT`."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How a verdict word looks: colour role, and outline drawn from its middle, 12 wide."""

    role: Role
    path: str
    hollow: bool = False


MARKS: dict[Word, Mark] = {
    Word.SOUND: Mark("sound", "m-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z"),
    Word.WATCH: Mark("watch", "m0-6l6 6l-6 6l-6-6z"),
    Word.ACT: Mark("act", "m0-5.6l6 10.4h-12z"),
    Word.OUT: Mark(
        "out",
        "m-2.3-5.6h4.6l3.3 3.3v4.6l-3.3 3.3h-4.6l-3.3-3.3v-4.6zm-1.3 4.5v2.2h7.2v-2.2z",
    ),
    Word.AGAIN: Mark("again", "m-4.3 0a4.3 4.3 0 1 0 8.6 0a4.3 4.3 0 1 0-8.6 0z", hollow=True),
    Word.NOT_ASSESSED: Mark("none", "m-4.6-4.6h9.2v9.2h-9.2zm2.4 4.6h4.4", hollow=True),
}
"""Shape and colour of each word: disc, diamond, triangle, barred octagon, ring, open box."""


def theme_css(colours: dict[Role, str]) -> str:
    """Return the custom properties of a theme as CSS declarations."""
    return "".join(f"--{role}:{value};" for role, value in colours.items())


def picture_css() -> str:
    """Return the rules by which a page re-colours the pictures it includes."""
    return "".join(
        f".f-{role}{{fill:var(--{role})}}.s-{role}{{stroke:var(--{role})}}" for role in LIGHT
    )
