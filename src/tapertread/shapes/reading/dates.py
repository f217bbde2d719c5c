"""Dates as tables write them, into ISO 8601; what can be read in two ways is refused."""

from __future__ import annotations

import re
from datetime import date, datetime, time

from tapertread.errors import OutlineRefused

_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ](.+))?")
_YEAR_LAST = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})(?: (.+))?")


def iso_time(text: str, date_format: str = "") -> str:
    """Return a date, or a date and time, as ISO 8601; midnight is taken as no time of day.

    Parameters
    ----------
    text : str
        As written, e.g. ``2031-04-02``, ``25.12.2031``, ``2031-04-02 14:05``.
    date_format : str
        Its form in ``strptime`` letters; empty takes only what reads in one way.

    Raises
    ------
    OutlineRefused
        ``ambiguous-date`` where day and month could be exchanged, ``unreadable-date`` otherwise.
    """
    text = text.strip()
    if not text:
        return ""
    if date_format:
        return _joined(*_by_format(text, date_format))
    days, clock = _days(text)
    if not days:
        raise _unreadable(text, "a day that exists")
    if len(days) > 1:
        raise OutlineRefused(
            "ambiguous-date",
            f"the date {text!r}, whose day and month could be exchanged",
            allowed="dates with the year first, or a recipe that names their form",
            todo='set file.date_format in a recipe, such as "%d.%m.%Y" or "%m/%d/%Y"',
        )
    return _joined(days.pop(), _clock(clock, text))


def _days(text: str) -> tuple[set[date], str | None]:
    """Return every day that a text can mean, and its time of day as written."""
    if found := _YEAR_FIRST.fullmatch(text):
        year, month, day, clock = found.groups()
        orders = [(month, day)]
    elif found := _YEAR_LAST.fullmatch(text):
        one, two, year, clock = found.groups()
        orders = [(one, two), (two, one)]
    else:
        raise _unreadable(text, "a date such as 2031-04-02")
    days = (_day(int(year), int(month), int(day)) for month, day in orders)
    return {day for day in days if day is not None}, clock


def _by_format(text: str, date_format: str) -> tuple[date, time]:
    try:
        moment = datetime.strptime(text, date_format)
    except ValueError:
        raise _unreadable(text, f"dates in the recipe's form {date_format!r}") from None
    return moment.date(), moment.timetz()


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _clock(clock: str | None, text: str) -> time:
    if clock is None:
        return time()
    try:
        return time.fromisoformat(clock.strip())
    except ValueError:
        raise _unreadable(text, "a time of day such as 14:05 or 14:05:30") from None


def _joined(day: date, clock: time) -> str:
    if clock == time():
        return day.isoformat()
    return f"{day.isoformat()}T{clock.isoformat()}"


def _unreadable(text: str, allowed: str) -> OutlineRefused:
    return OutlineRefused(
        "unreadable-date",
        f"the text {text!r} where a date should be",
        allowed=allowed,
        todo="correct the cell, or set file.date_format in a recipe",
    )
