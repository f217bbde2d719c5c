"""The bibliography: every formula, limit and table cites a key of ``data/sources.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from tapertread.errors import SourceUnknown


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One entry of the bibliography.

    Attributes
    ----------
    key : str
        The name under which it is cited.
    authors, title, where : str
        Who, what, and the place inside it.
    year : int or None
        Year of the edition.
    status : str
        How the figures were come by: ``VERIFIED`` (seen in a public text), ``MEMORY`` (recalled,
        not seen), ``DERIVED``, ``COMPUTED`` or ``common practice, no source``.
    note : str
        What a user must know before relying on it.
    """

    key: str
    authors: str
    title: str
    status: str
    year: int | None = None
    where: str = ""
    note: str = ""

    def __str__(self) -> str:
        """Return the entry as one line of a bibliography."""
        year = "" if self.year is None else f" ({self.year})"
        place = f", {self.where}" if self.where else ""
        return f"{self.authors}{year}: {self.title}{place}. [{self.status}]"


@cache
def all_sources() -> dict[str, Source]:
    """Return every entry by its key, in the order of the file."""
    text = files("tapertread.data").joinpath("sources.toml").read_text(encoding="utf-8")
    return {key: Source(key=key, **entry) for key, entry in tomllib.loads(text).items()}


def source(key: str) -> Source:
    """Return the entry of a key.

    Raises
    ------
    SourceUnknown
        If the key has no entry.
    """
    try:
        return all_sources()[key]
    except KeyError:
        raise SourceUnknown(f"no source named {key!r} in data/sources.toml") from None


def bibliography(keys: Iterable[str]) -> list[Source]:
    """Return the entries of the keys a run used, each once, sorted by key.

    Raises
    ------
    SourceUnknown
        If a key has no entry.
    """
    return [source(key) for key in sorted(set(keys))]
