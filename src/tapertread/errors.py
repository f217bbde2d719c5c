"""Every error tapertread raises on purpose, drawn as one tree.

::

    TapertreadError
    ├── RefusedInput            something a user gave cannot be used (exit status 1)
    │   ├── FileRefused         a file cannot be read at all: empty, binary, missing, wrong kind
    │   ├── OutlineRefused      the points read do not make an outline that can be trusted
    │   ├── DrawingRefused      a drawing file does not describe one continuous shape
    │   ├── RecipeRefused       a recipe is incomplete or contradicts the file it reads
    │   ├── SurveyRefused       the records of a survey contradict one another
    │   ├── LimitsRefused       a limit set or an override is incomplete
    │   └── ContactRefused      this wheelset cannot stand on this track
    ├── WrongUsage              the call itself is wrong (exit status 2)
    └── SourceUnknown           a formula, limit or table cites a key that has no entry

A refusal says four things: what was found, where, what is allowed, what to do next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in the user's own data; parts that are not known stay ``None``."""

    file: str | None = None
    line: int | None = None
    column: str | None = None
    record: str | None = None

    def __str__(self) -> str:
        """Return ``file, line 3, column z_mm, record W07`` with the unknown parts left out."""
        parts = [
            self.file,
            None if self.line is None else f"line {self.line}",
            None if self.column is None else f"column {self.column}",
            None if self.record is None else f"record {self.record}",
        ]
        return ", ".join(part for part in parts if part)


class TapertreadError(Exception):
    """Root of every error this package raises on purpose."""


class WrongUsage(TapertreadError):  # noqa: N818
    """The call itself is wrong: an unknown option, two that exclude one another."""


class SourceUnknown(TapertreadError):  # noqa: N818
    """A cited key has no entry in ``data/sources.toml``."""


class RefusedInput(TapertreadError):  # noqa: N818
    """Input that cannot be used.

    Parameters
    ----------
    code : str
        Short stable name of the reason, in kebab case, e.g. ``mirrored-outline``.
    found : str
        What was found, as a clause without a full stop.
    allowed : str
        What is allowed instead.
    todo : str
        What the user can do next.
    where : Where
        Place in the user's data.
    """

    def __init__(
        self, code: str, found: str, *, allowed: str, todo: str, where: Where | None = None
    ) -> None:
        self.code = code
        self.found = found
        self.allowed = allowed
        self.todo = todo
        self.where = where or Where()
        super().__init__(str(self))

    def __str__(self) -> str:
        place = str(self.where)
        head = f"{place}: {self.found}" if place else self.found
        return f"{head} [{self.code}]. Allowed: {self.allowed}. Next: {self.todo}."

    def at(self, **parts: object) -> Self:
        """Return the same refusal with its place completed (`file`, `line`, `column`, `record`).

        Parts already known are kept: the place nearest to the fault knows best.
        """
        known = {
            name: getattr(self.where, name)
            for name in ("file", "line", "column", "record")
            if getattr(self.where, name) is not None
        }
        where = replace(Where(), **{**parts, **known})
        return type(self)(self.code, self.found, allowed=self.allowed, todo=self.todo, where=where)

    def to_dict(self) -> dict[str, object]:
        """Return the refusal as plain values for JSON."""
        return {
            "code": self.code,
            "found": self.found,
            "allowed": self.allowed,
            "todo": self.todo,
            "file": self.where.file,
            "line": self.where.line,
            "column": self.where.column,
            "record": self.where.record,
        }


class FileRefused(RefusedInput):
    """A file cannot be read at all."""


class OutlineRefused(RefusedInput):
    """The points read do not make an outline that can be trusted."""


class DrawingRefused(RefusedInput):
    """A drawing file does not describe one continuous shape."""


class RecipeRefused(RefusedInput):
    """A recipe is incomplete or contradicts the file it reads."""


class SurveyRefused(RefusedInput):
    """The records of a survey contradict one another."""


class LimitsRefused(RefusedInput):
    """A limit set or an override is incomplete."""


class ContactRefused(RefusedInput):
    """A wheelset cannot stand on a track."""
