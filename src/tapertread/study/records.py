"""What an assessment found, as plain records that JSON, page and report all read.

Reasons are records too: a code and its numbers. `study.sentences` alone turns them into words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from tapertread.limits.verdicts import Limit, Verdict, Word

SubjectKind = Literal["wheelset", "wheel", "section", "rail", "outline", "line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a verdict is what it is: a code known to `study.sentences`, and its numbers."""

    code: str
    values: dict[str, float | str | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a finding is about, e.g. ``wheelset C03-2`` or ``rail S14 left``."""

    kind: SubjectKind
    asset: str
    side: Literal["left", "right", "both"] = "both"
    group: str = ""
    """Fleet of a wheelset, line of a section."""

    def __str__(self) -> str:
        """Return the subject as a person would say it."""
        side = "" if self.side == "both" else f" {self.side}"
        return f"{self.kind} {self.asset}{side}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One verdict about one quantity of one subject, ranked among all others."""

    id: str
    subject: Subject
    quantity: str
    verdict: Verdict
    reason: Reason
    why: str
    against: str = ""
    """The other half of the pairing where there is one: the worst section or wheelset."""
    rank: int = 0

    @property
    def word(self) -> Word:
        """The verdict word."""
        return self.verdict.word

    @property
    def limit(self) -> Limit | None:
        """The limit that was applied."""
        return self.verdict.limit


def one_for_each_asset(findings: Iterable[Finding]) -> list[Finding]:
    """Return the first finding of every wheelset and section, in order: what a reader sees first.

    A bad wheel fails several measures at once; one of them tells the reader where to look.
    """
    first: dict[tuple[bool, str], Finding] = {}
    for one in findings:
        on_rails = one.subject.kind in ("section", "rail")
        first.setdefault((on_rails, one.subject.asset), one)
    return list(first.values())
