"""Quantities, limits and status words as text, the same for every writer."""

from __future__ import annotations

import math

from tapertread.limits.verdicts import Limit
from tapertread.report.document import Quantity
from tapertread.study.sentences import BOUND
from tapertread.units import UnitSystem, shown

NO_VALUE = "—"

_STATUSES = {
    "VERIFIED": "seen in the source",
    "MEMORY": "from memory, check your copy",
    "DERIVED": "derived from its sources",
    "COMPUTED": "computed here",
    "common practice, no source": "common practice, no source",
    "user override": "set by the user",
}


def number_text(value: float, unit: str, *, system: UnitSystem) -> str:
    """Return a value as a bare number in the unit shown, with a true minus sign."""
    how = shown(unit, system)
    return f"{value * how.factor + 0.0:.{how.digits}f}".replace("-", "−")


def quantity_text(quantity: Quantity, *, system: UnitSystem, bare: bool = False) -> str:
    """Return a quantity with its expanded uncertainty and unit; a dash where there is no value.

    Parameters
    ----------
    quantity : Quantity
        What to write.
    system : {"metric", "us"}
        Units shown.
    bare : bool
        Whether the unit is left out, because the column's head says it.
    """
    value = quantity.value
    if value is None or not math.isfinite(value):
        return NO_VALUE
    text = number_text(value, quantity.unit, system=system)
    if quantity.expanded is not None:
        text += f" ± {number_text(quantity.expanded, quantity.unit, system=system)}"
    label = "" if bare else shown(quantity.unit, system).unit
    if not label:
        return text
    return f"{text}{label}" if label == "°" and "±" not in text else f"{text} {label}"


def limit_text(limit: Limit, *, system: UnitSystem) -> str:
    """Return what a limit allows, e.g. ``at least 22.00 mm``."""
    value = quantity_text(Quantity(value=limit.value, unit=limit.unit), system=system)
    return f"{BOUND[limit.sense]} {value}"


def limit_place(limit: Limit) -> str:
    """Return where a limit stands and for what it holds."""
    clause = "" if limit.clause.strip(" -") in ("", "none") else f", {limit.clause}"
    applies = f" ({limit.applies})" if limit.applies else ""
    return f"{limit.edition}{clause}{applies}"


def status_text(status: str) -> str:
    """Return how far a figure was seen, in words; a status without words stands for itself."""
    return _STATUSES.get(status, status)


def count_text(count: int, one: str, many: str = "") -> str:
    """Return a number of things in words: ``1 verdict``, ``3 verdicts``."""
    return f"{count} {one if count == 1 else many or f'{one}s'}"
