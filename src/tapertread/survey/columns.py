"""The tables of a survey, made from the records they fill: columns, units, ranges, keys.

A column is named as the record's field. Where the field's name carries a unit, the column may carry
another of the same quantity: ``gauge_in`` fills ``gauge_mm``. Words, ranges and keys stand in
``data/columns.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import msgspec
from msgspec import inspect

from tapertread.railway import records
from tapertread.units import FACTORS, radius_m_from_degree_of_curve

Meaning = Literal["number", "count", "text", "word", "flag", "date"]

RECORDS: dict[str, type[records.Record]] = {
    "campaigns": records.Campaign,
    "vehicles": records.Vehicle,
    "wheelsets": records.Wheelset,
    "kilometres": records.KilometreJump,
    "route": records.RoutePiece,
    "sections": records.Section,
    "services": records.Service,
    "inspections": records.Inspection,
    "treatments": records.Treatment,
    "lubricators": records.Lubricator,
    "bands": records.ContactBand,
    "friction": records.FrictionReading,
}
"""Table → the record of its rows, in the order in which tables lean on one another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of one table.

    Attributes
    ----------
    name : str
        Field of the record.
    meaning : {"number", "count", "text", "word", "flag", "date"}
        How its cells are read.
    required : bool
        Whether each row must fill it.
    default : object
        What a blank cell means, where it need not be filled.
    words : tuple of str
        Words allowed, for a ``word``.
    low, high : float or None
        Range within which a number is believed, inside unit.
    text : str
        What it means.
    spellings : dict of str to callable
        Column names that fill it → conversion into the inside unit.
    """

    name: str
    meaning: Meaning
    required: bool
    default: object
    words: tuple[str, ...]
    low: float | None
    high: float | None
    text: str
    spellings: dict[str, Callable[[float], float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """One kind of table.

    Attributes
    ----------
    name : str
        File name without its ending.
    record : type
        Record of its rows.
    columns : dict of str to Column
        By field name.
    key : tuple of str
        Fields that make a record one.
    part : tuple of str
        Fields naming what a later table replaces as a whole; empty where rows stand alone.
    text : str
        What it holds.
    """

    name: str
    record: type[records.Record]
    columns: dict[str, Column]
    key: tuple[str, ...]
    part: tuple[str, ...]
    text: str

    @property
    def required(self) -> set[str]:
        """Fields that every row must fill."""
        return {column.name for column in self.columns.values() if column.required}

    def column_of(self, name: str) -> Column | None:
        """Return the column that a header name fills, ``None`` where it is none of this table."""
        found = (column for column in self.columns.values() if name in column.spellings)
        return next(found, None)

    def key_of(self, record: records.Record) -> str:
        """Return the key of a record as text."""
        return "|".join(str(getattr(record, field)) for field in self.key)

    def part_of(self, record: records.Record) -> str:
        """Return what part of the survey a record belongs to, for tables replaced by parts."""
        return "|".join(str(getattr(record, field)) for field in self.part)


@cache
def table_kinds() -> dict[str, TableKind]:
    """Return every kind of table, in the order in which they lean on one another."""
    text = files("tapertread.data").joinpath("columns.toml").read_text(encoding="utf-8")
    told = tomllib.loads(text)
    return {name: _kind(name, record, told[name]) for name, record in RECORDS.items()}


def unit_of(field: str) -> str | None:
    """Return the inside unit that a field's name carries, or ``None``.

    ``tonnage_mt_per_year`` → ``mt``; ``km`` → ``km``; ``left_hardness_hb`` → ``None``.
    """
    unit = field.removesuffix("_per_year").rpartition("_")[2]
    return unit if FACTORS.get(unit) == (unit, 1.0) else None


def _kind(name: str, record: type[records.Record], told: dict[str, Any]) -> TableKind:
    fields = msgspec.structs.fields(record)
    return TableKind(
        name=name,
        record=record,
        columns={field.name: _column(field, told["columns"][field.name]) for field in fields},
        key=tuple(told["key"]),
        part=tuple(told.get("part", ())),
        text=told["text"],
    )


def _column(field: msgspec.structs.FieldInfo, told: dict[str, Any]) -> Column:
    meaning, words = _meaning(field)
    return Column(
        name=field.name,
        meaning=meaning,
        required=field.required,
        default=None if field.required else field.default,
        words=words,
        low=told.get("low"),
        high=told.get("high"),
        text=told["text"],
        spellings=_spellings(field.name),
    )


def _meaning(field: msgspec.structs.FieldInfo) -> tuple[Meaning, tuple[str, ...]]:
    kind = inspect.type_info(field.type)
    if isinstance(kind, inspect.UnionType):
        kind = next(one for one in kind.types if not isinstance(one, inspect.NoneType))
    if isinstance(kind, inspect.LiteralType):
        return "word", tuple(str(word) for word in kind.values)
    if isinstance(kind, inspect.BoolType):
        return "flag", ()
    if isinstance(kind, inspect.IntType):
        return "count", ()
    if isinstance(kind, inspect.FloatType):
        return "number", ()
    return ("date" if field.name == "date" else "text"), ()


def _spellings(field: str) -> dict[str, Callable[[float], float]]:
    unit = unit_of(field)
    if unit is None:
        return {field: _as_it_is}
    tail = "_per_year" if field.endswith("_per_year") else ""
    stem = field.removesuffix(tail).removesuffix(unit)
    found = {
        f"{stem}{other}{tail}": _times(factor)
        for other, (inside, factor) in FACTORS.items()
        if inside == unit
    }
    if field == "radius_m":
        found["curve_deg"] = radius_m_from_degree_of_curve
    return found


def _as_it_is(value: float) -> float:
    return value


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor
