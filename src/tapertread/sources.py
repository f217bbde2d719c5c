"""The bibliography: every formula, limit and table cites a key of ``data/sources.toml``.

A docstring cites in square brackets, with the place after a comma where it matters::

    Return the wavelength [klingel-1883].
    Amplitude by clearance [en15302-2021, annex C].

A key begins with a letter and is lower case, digits and at least one hyphen (``derived`` alone has
none); so brackets of another meaning, such as units or ranges, are no citations. A data file cites
as ``source = "key"`` or ``sources = ["key", …]``, code as a keyword argument ``source="key"``.
`citations` finds them all, `uncited` and `missing` compare them with the bibliography.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

from tapertread.errors import SourceUnknown

STATUSES = (
    "VERIFIED",
    "MEMORY",
    "DERIVED",
    "COMPUTED",
    "common practice, no source",
    "stated by the user",
)
"""How a figure was come by; no other word is allowed in the bibliography."""

CITATION = re.compile(r"\[(derived|[a-z][a-z0-9]*(?:-[a-z0-9]+)+)(?:,[^\[\]]*)?\]")


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
        not seen), ``DERIVED``, ``COMPUTED``, ``common practice, no source`` or ``stated by the
        user``.
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
    text = files("tapertread").joinpath("data", "sources.toml").read_text(encoding="utf-8")
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Citation:
    """A key cited at one place: file name relative to the folder searched, and line where known."""

    key: str
    file: str
    line: int | None = None


def cited(text: str) -> tuple[str, ...]:
    """Return the keys that a docstring cites, in order."""
    return tuple(CITATION.findall(text))


def citations(folder: Path) -> Iterator[Citation]:
    """Go through every citation in the Python and TOML files below a folder.

    Raises
    ------
    SyntaxError, tomllib.TOMLDecodeError
        If a file cannot be read as what its name says.
    """
    for path in sorted(folder.rglob("*.py")):
        name = path.relative_to(folder).as_posix()
        yield from _in_code(path.read_text(encoding="utf-8"), file=name)
    for path in sorted(folder.rglob("*.toml")):
        name = path.relative_to(folder).as_posix()
        rows = tomllib.loads(path.read_text(encoding="utf-8"))
        yield from (Citation(key=key, file=name) for key in _in_rows(rows))


def missing(found: Iterable[Citation]) -> list[Citation]:
    """Return the citations whose key has no entry."""
    known = all_sources()
    return [citation for citation in found if citation.key not in known]


def uncited(found: Iterable[Citation]) -> list[str]:
    """Return the keys that nothing cites, sorted."""
    return sorted(set(all_sources()) - {citation.key for citation in found})


def _in_code(text: str, *, file: str) -> Iterator[Citation]:
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    for node in ast.walk(ast.parse(text)):
        line = getattr(node, "lineno", 1)
        if isinstance(node, documented):
            keys = cited(ast.get_docstring(node) or "")
            yield from (Citation(key=key, file=file, line=line) for key in keys)
        elif isinstance(node, ast.keyword) and node.arg == "source":
            keys = _strings(node.value)
            yield from (Citation(key=key, file=file, line=node.value.lineno) for key in keys)


def _strings(value: ast.expr) -> tuple[str, ...]:
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        return (value.value,)
    return ()


def _in_rows(value: object) -> Iterator[str]:
    if isinstance(value, list):
        for item in value:
            yield from _in_rows(item)
    elif isinstance(value, dict):
        for name, item in value.items():
            if name == "source" and isinstance(item, str):
                yield item
            elif name == "sources" and isinstance(item, list):
                yield from (key for key in item if isinstance(key, str))
            else:
                yield from _in_rows(item)
