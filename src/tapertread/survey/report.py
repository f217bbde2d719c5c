"""What an import did, file by file: added, already there, superseded, refused and why."""

from __future__ import annotations

from dataclasses import dataclass

from tapertread.errors import RefusedInput


@dataclass(frozen=True, slots=True, kw_only=True)
class FileImport:
    """What became of one file.

    Attributes
    ----------
    file : str
        The file.
    kind : str
        Table that it is, or ``wheel`` or ``rail`` for outlines; empty where it was not found out.
    added, already_there, superseded : int
        Records or outlines brought in, known before, and replaced by newer ones (but kept).
    refusals : tuple of RefusedInput
        Why all of the file was refused; empty where it was brought in.
    notes : tuple of str
        What was taken for granted.
    """

    file: str
    kind: str = ""
    added: int = 0
    already_there: int = 0
    superseded: int = 0
    refusals: tuple[RefusedInput, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportReport:
    """What an import did."""

    files: tuple[FileImport, ...]
    notes: tuple[str, ...] = ()

    @property
    def added(self) -> int:
        """Records and outlines brought in."""
        return sum(one.added for one in self.files)

    @property
    def already_there(self) -> int:
        """Records and outlines that the store held before."""
        return sum(one.already_there for one in self.files)

    @property
    def superseded(self) -> int:
        """Records and outlines that newer ones took the place of; the old ones are kept."""
        return sum(one.superseded for one in self.files)

    @property
    def refusals(self) -> tuple[RefusedInput, ...]:
        """Every refusal, in the order of the files."""
        return tuple(refusal for one in self.files for refusal in one.refusals)

    @property
    def refused(self) -> list[dict[str, object]]:
        """The refusals as plain values: file, line, why, and the parts of why."""
        return [{**refusal.to_dict(), "why": why_of(refusal)} for refusal in self.refusals]

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON."""
        return {
            "added": self.added,
            "already_there": self.already_there,
            "superseded": self.superseded,
            "refused": self.refused,
            "files": [
                {
                    "file": one.file,
                    "kind": one.kind,
                    "added": one.added,
                    "already_there": one.already_there,
                    "superseded": one.superseded,
                    "refused": len(one.refusals),
                }
                for one in self.files
            ],
            "notes": [*self.notes, *(note for one in self.files for note in one.notes)],
        }


def why_of(refusal: RefusedInput) -> str:
    """Return why something was refused and what to do, without its file and line."""
    place = ", ".join(
        f"{name} {value}"
        for name, value in (
            ("column", refusal.where.column),
            ("record", refusal.where.record),
        )
        if value
    )
    head = f"{place}: {refusal.found}" if place else refusal.found
    return f"{head} [{refusal.code}]. Allowed: {refusal.allowed}. Next: {refusal.todo}."
