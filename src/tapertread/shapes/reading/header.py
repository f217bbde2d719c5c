"""What the names of columns say: coordinate, unit, and what an outline is known by."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import cast

from tapertread.errors import OutlineRefused
from tapertread.shapes.outline import Kind
from tapertread.shapes.reading.recipe_fields import LENGTH_UNITS_MM, LengthUnit

LABEL_NAMES: dict[str, tuple[str, ...]] = {
    "asset": ("asset", "wheelset", "section"),
    "side": ("side",),
    "campaign": ("campaign",),
    "time": ("time", "date", "measured"),
}
"""Names under which a column is recognised without a recipe; capitals do not matter."""

KIND_BY_NAME: dict[str, Kind] = {"wheelset": "wheel", "section": "rail"}
"""Names of asset columns that say what was measured."""

UNIT_WORDS: dict[str, LengthUnit] = {
    **{cast("LengthUnit", unit): cast("LengthUnit", unit) for unit in LENGTH_UNITS_MM},
    "µm": "um",
    "μm": "um",
    "micron": "um",
    "microns": "um",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
}

_BRACKETED = re.compile(r"(.*?)[\s_]*(?:[\[(]\s*(.*?)\s*[\])]|/\s*(\S+))")
_SUFFIXED = re.compile(r"(.*?)[\s_]+(\S+)")


def split_name(name: str) -> tuple[str, LengthUnit | None, str]:
    """Return a column's name without its unit, the unit, and unit words that are not known.

    ``Y [mm]`` → ``("Y", "mm", "")``; ``z`` → ``("z", None, "")``;
    ``z (furlong)`` → ``("z", None, "furlong")``.
    """
    text = name.strip()
    if found := _BRACKETED.fullmatch(text):
        word = found.group(2) or found.group(3) or ""
        unit = UNIT_WORDS.get(word.lower())
        return found.group(1).strip(), unit, "" if unit else word
    if found := _SUFFIXED.fullmatch(text):
        unit = UNIT_WORDS.get(found.group(2).lower())
        if unit:
            return found.group(1).strip(), unit, ""
    return text, None, ""


def find_coordinate(names: Sequence[str], letter: str) -> int:
    """Return the index of the only column of a coordinate, ``y`` or ``z``.

    Raises
    ------
    OutlineRefused
        If there is none (unknown units are named), or more than one.
    """
    split = [split_name(name) for name in names]
    at = [index for index, (base, _, _) in enumerate(split) if base.lower() == letter]
    if len(at) == 1:
        return at[0]
    if at:
        raise _two_columns(letter, [names[index] for index in at])
    near = next((n for n in names if re.match(rf"(?i){letter}[\s_\[(/]", n.strip())), None)
    if near is not None:
        raise unknown_unit(near, re.split(r"[\s_\[(/]+", near.strip(), maxsplit=1)[1])
    raise OutlineRefused(
        "missing-column",
        f"no column {letter}; the columns are {listed(names)}",
        allowed=f"a header with {letter} and its unit, such as `{letter}_mm`, `{letter} [in]`",
        todo="name the columns so, or write a recipe that says which column is what",
    ).at(column=letter)


def find_labels(names: Sequence[str]) -> dict[str, int]:
    """Return the columns that say what an outline belongs to, by label.

    Raises
    ------
    OutlineRefused
        If two columns would say the same.
    """
    found: dict[str, int] = {}
    for index, name in enumerate(names):
        word = name.strip().lower()
        for label, words in LABEL_NAMES.items():
            if word in words:
                if label in found:
                    raise _two_columns(label, [names[found[label]], name])
                found[label] = index
    return found


def listed(names: Sequence[str]) -> str:
    """Return names for a message, the first dozen of many."""
    shown = ", ".join(f"`{name}`" for name in names[:12])
    return shown if len(names) <= 12 else f"{shown} and {len(names) - 12} more"


def unknown_unit(name: str, word: str) -> OutlineRefused:
    """Return the refusal of a unit that is not a known length."""
    return OutlineRefused(
        "unknown-unit",
        f"the unit {word.rstrip('])')!r} of the column `{name}`",
        allowed="the units " + ", ".join(LENGTH_UNITS_MM),
        todo="correct the header, or state the units",
    ).at(column=name)


def _two_columns(what: str, names: Sequence[str]) -> OutlineRefused:
    return OutlineRefused(
        "two-columns",
        f"more than one column for {what}: {listed(names)}",
        allowed="one column for each",
        todo="remove one, or say in a recipe which one counts",
    ).at(column=names[1])
