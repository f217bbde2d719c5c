"""Aligned lines of text for people."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from tapertread.units import UnitSystem, quantity

NOTHING = "–"


def pairs_text(pairs: Iterable[tuple[str, str]]) -> str:
    """Return names and values in two columns."""
    rows = list(pairs)
    width = max((len(name) for name, _ in rows), default=0)
    return "\n".join(f"{name:<{width}}  {value}" for name, value in rows)


def table_text(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table whose columns are as wide as they need to be, numbers to the right."""
    lines = [list(head), *(list(row) for row in rows)]
    widths = [max(len(line[at]) for line in lines) for at in range(len(head))]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(line, widths, strict=True))
        for line in lines
    )


def value_text(value: float | None, unit: str, *, system: UnitSystem = "metric") -> str:
    """Return a value in an inside unit for a person; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return NOTHING
    text = quantity(value, unit, system=system)
    return text[1:] if text.startswith("-") and not any(c in "123456789" for c in text) else text


def notes_text(notes: Iterable[str]) -> str:
    """Return notes as a list under a heading; nothing where there are none."""
    lines = [f"  - {note}" for note in notes]
    return "\n".join(["Notes:", *lines]) if lines else ""


def paragraphs(*parts: str) -> str:
    """Return the parts that are not empty, with an empty line between them."""
    return "\n\n".join(part for part in parts if part)
