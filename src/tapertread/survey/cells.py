"""One cell into one value: numbers, counts, words, flags and dates, each strictly.

Nothing is guessed: decimal commas, thousands signs, ``NaN`` and dates that read two ways are
refused.
"""

from __future__ import annotations

import math
import re

from tapertread.errors import OutlineRefused, SurveyRefused
from tapertread.shapes.reading.dates import iso_time
from tapertread.survey.columns import Column

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_COUNT = re.compile(r"[+-]?\d+(\.0*)?")
_STRAIGHT = {"straight", "inf", "infinity"}
FLAGS = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}


def value_of(cell: str, column: Column, *, spelled: str) -> object:
    """Return the value of a filled cell in the inside unit of its column.

    Parameters
    ----------
    cell : str
        Text of the cell, not blank.
    column : Column
        What it fills.
    spelled : str
        Name of the column in the file, which says the unit.

    Raises
    ------
    SurveyRefused
        ``not-a-number``, ``decimal-comma``, ``not-a-count``, ``unknown-word``, ``not-a-flag``,
        ``ambiguous-date``, ``unreadable-date``, ``out-of-range``.
    """
    if column.meaning == "number":
        return _number(cell, column, spelled)
    if column.meaning == "count":
        return _count(cell, column)
    if column.meaning == "word":
        return _word(cell, column)
    if column.meaning == "flag":
        return _flag(cell)
    if column.meaning == "date":
        return _date(cell)
    return cell


def _number(cell: str, column: Column, spelled: str) -> float:
    if column.name == "radius_m" and cell.lower() in _STRAIGHT:
        return math.inf
    if not _NUMBER.fullmatch(cell):
        raise _no_number(cell)
    try:
        value = column.spellings[spelled](float(cell))
    except ValueError as fault:
        raise _refused("out-of-range", str(fault), "degrees between -180 and 180") from None
    if column.name == "radius_m" and math.isinf(value):
        return value
    return _believed(value, column, cell)


def _believed(value: float, column: Column, cell: str) -> float:
    low = -math.inf if column.low is None else column.low
    high = math.inf if column.high is None else column.high
    if not (math.isfinite(value) and low <= value <= high):
        inside = "" if str(value) == cell else f" ({value:g} as {column.name})"
        raise SurveyRefused(
            "out-of-range",
            f"the number {cell}{inside}",
            allowed=f"{low:g} to {high:g} as {column.name}",
            todo="correct the number, or the unit in the column's name",
        )
    return value


def _no_number(cell: str) -> SurveyRefused:
    if _NUMBER.fullmatch(cell.replace(",", "").replace(" ", "")):
        return SurveyRefused(
            "decimal-comma",
            f"the number {cell!r}, whose comma or blank may stand for decimals or thousands",
            allowed="a point before decimals and nothing between thousands",
            todo="export with decimal points",
        )
    return _refused("not-a-number", f"the text {cell!r}", "a number; blank where not measured")


def _count(cell: str, column: Column) -> int:
    if not _COUNT.fullmatch(cell):
        raise _refused("not-a-count", f"the text {cell!r}", "a whole number")
    return int(_believed(float(cell), column, cell))


def _word(cell: str, column: Column) -> str:
    word = cell.lower()
    if word not in column.words:
        raise _refused("unknown-word", f"the word {cell!r}", ", ".join(column.words))
    return word


def _flag(cell: str) -> bool:
    if cell.lower() not in FLAGS:
        raise _refused("not-a-flag", f"the text {cell!r}", "yes or no")
    return FLAGS[cell.lower()]


def _date(cell: str) -> str:
    try:
        return iso_time(cell)
    except OutlineRefused as fault:
        raise SurveyRefused(
            fault.code,
            fault.found,
            allowed="dates with the year first, such as 2031-04-02",
            todo="write the year first",
        ) from None


def _refused(code: str, found: str, allowed: str) -> SurveyRefused:
    return SurveyRefused(code, found, allowed=allowed, todo="correct the cell")
