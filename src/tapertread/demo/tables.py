"""Records to tables: columns with unit suffix, numbers in the units asked for, fixed line ends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import msgspec

from tapertread.railway.records import Record
from tapertread.units import (
    FACTORS,
    UnitSystem,
    degree_of_curve_from_radius_m,
)

US_SUFFIX = {"mm": "in", "m": "ft", "km": "mi", "kmh": "mph", "kn": "kip"}
"""Unit suffix of a record's field → the one used in a table in US customary units."""

DIGITS = {
    "mm": 3, "in": 5, "m": 3, "ft": 4, "km": 6, "mi": 6, "kmh": 1, "mph": 2, "kn": 2, "kip": 3,
    "mt": 3, "mgt": 4, "deg": 6,
}  # fmt: skip


def column_of(field: str, system: UnitSystem) -> str:
    """Return the column name of a record's field in a unit system."""
    if system == "metric":
        return field
    if field == "radius_m":
        return "curve_deg"
    if field.endswith("_mt_per_year"):
        return field.replace("_mt_", "_mgt_")
    stem, _, suffix = field.rpartition("_")
    if stem and suffix in US_SUFFIX:
        return f"{stem}_{US_SUFFIX[suffix]}"
    return US_SUFFIX["km"] if field == "km" else field


def cell(value: object, *, field: str, column: str) -> str:
    """Return a value as text in the unit of its column; missing values are empty."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if not isinstance(value, float):
        return _quoted(str(value))
    if field == "radius_m":
        return _radius(value, column)
    unit = _unit(column)
    converted = value / FACTORS[unit][1] if unit else value
    return _number(converted, DIGITS.get(unit, 4))


def write_table(
    path: Path, records: Sequence[Record], *, kind: type[Record], system: UnitSystem
) -> None:
    """Write records as CSV, one column a field, in the order of the record."""
    fields = [field.name for field in msgspec.structs.fields(kind)]
    columns = [column_of(field, system) for field in fields]
    lines = [",".join(columns)]
    for record in records:
        values = (getattr(record, field) for field in fields)
        lines.append(
            ",".join(
                cell(value, field=field, column=column)
                for value, field, column in zip(values, fields, columns, strict=True)
            )
        )
    write_lines(path, lines)


def write_lines(path: Path, lines: Sequence[str]) -> None:
    """Write lines as UTF-8 with a line feed after each, on every system."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(("\n".join(lines) + "\n").encode())


def _unit(column: str) -> str:
    if column.endswith("_per_year"):
        column = column.removesuffix("_per_year")
    suffix = column.rpartition("_")[2]
    return suffix if suffix in FACTORS else ""


def _radius(value: float, column: str) -> str:
    if column == "curve_deg":
        return _number(degree_of_curve_from_radius_m(value), DIGITS["deg"])
    return "straight" if math.isinf(value) else _number(value, DIGITS["m"])


def _number(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _quoted(text: str) -> str:
    return f'"{text}"' if "," in text else text
