"""Friction states by name, and the targets of friction management: data with source and status.

A state gives a range, never one value: whoever needs a value says which end of the range is the
grave one, because high friction makes wheels climb and low friction takes braking away.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Literal

import msgspec

from tapertread.errors import SurveyRefused, Where
from tapertread.railway.records import Record

Place = Literal["top", "gauge-face"]


class FrictionRange(Record, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Range of a coefficient of friction with its source.

    Attributes
    ----------
    name, title : str
        Name in tables; words for people.
    place : {"top", "gauge-face", "both"}
        Where on the rail the range holds.
    low, high : float or None
        Ends of the range; ``None`` where no figure was found.
    source, status, sureness, note : str
        Key of `tapertread.sources`, how the figures were come by, how sure a recalled one is, and
        what a reader must know.
    top_as, gauge_face_as : str
        State that holds at the other place of the rail.
    at_least_as : str
        State whose upper end is the least to reckon with, where no figure was found.
    """

    name: str
    title: str
    place: Literal["top", "gauge-face", "both"]
    low: float | None = None
    high: float | None = None
    source: str
    status: str
    sureness: str = ""
    note: str = ""
    top_as: str = ""
    gauge_face_as: str = ""
    at_least_as: str = ""

    @property
    def mark(self) -> str:
        """The mark that must stay visible wherever a recalled figure is used, else nothing."""
        if self.status == "VERIFIED":
            return ""
        return f"{self.status} ({self.sureness})" if self.sureness else self.status


@cache
def friction_states() -> dict[str, FrictionRange]:
    """Return every friction state by its name."""
    return _ranges("state")


@cache
def friction_targets() -> dict[str, FrictionRange]:
    """Return the targets of friction management by name."""
    return _ranges("target")


def friction_state(name: str) -> FrictionRange:
    """Return a friction state.

    Raises
    ------
    SurveyRefused
        ``unknown-friction-state``.
    """
    try:
        return friction_states()[name]
    except KeyError:
        raise SurveyRefused(
            "unknown-friction-state",
            f"the friction state {name!r}",
            allowed=", ".join(friction_states()),
            todo="use one of these names",
            where=Where(column="friction_state"),
        ) from None


def friction_at(name: str, place: Place) -> FrictionRange:
    """Return the range that holds at a place of the rail in a state.

    ``friction_at("greased", "top")`` is the range of the state dry.

    Raises
    ------
    SurveyRefused
        ``unknown-friction-state``.
    """
    state = friction_state(name)
    if state.place in (place, "both"):
        return state
    return friction_state(state.top_as if place == "top" else state.gauge_face_as)


def _ranges(kind: str) -> dict[str, FrictionRange]:
    text = files("tapertread.data").joinpath("friction.toml").read_text(encoding="utf-8")
    found = tomllib.loads(text)[kind]
    return {
        name: msgspec.convert({"name": name, **entry}, FrictionRange)
        for name, entry in found.items()
    }
