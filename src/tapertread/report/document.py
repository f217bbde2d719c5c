"""What a report says, without saying how it looks: plain frozen blocks in reading order.

No block holds markup of a page; pictures are SVG, which every writer can place. Writers are thin:
`tapertread.report.html` makes a page of a document.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from tapertread.limits.verdicts import Limit, Verdict, Word
from tapertread.sources import Source
from tapertread.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A value in an inside unit, as measured; writers choose the unit shown.

    Attributes
    ----------
    value : float or None
        ``None`` where there is none; then `reason` says why.
    unit : str
        Inside unit, as `tapertread.units.shown` knows them.
    expanded : float or None
        Expanded uncertainty (k = 2).
    reason : str
        Why there is no value.
    """

    value: float | None
    unit: str
    expanded: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitShown:
    """A limit with all that must stand beside it."""

    limit: Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """A cell with a short remark below it; sorting goes by the cell alone."""

    cell: Cell
    note: str


Cell = str | Quantity | Word | LimitShown | Noted
"""What a table cell can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """A paragraph; ``lead`` opens a part, ``small`` is for side remarks."""

    kind: ClassVar[str] = "paragraph"
    text: str
    tone: Literal["plain", "lead", "small"] = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list of short points."""

    kind: ClassVar[str] = "bullets"
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What a reader must not overlook; ``banner`` marks the whole report, such as invented data."""

    kind: ClassVar[str] = "caution"
    title: str
    items: tuple[str, ...]
    banner: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyNumber:
    """One headline number."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyNumbers:
    """Headline numbers side by side."""

    kind: ClassVar[str] = "key_numbers"
    numbers: tuple[KeyNumber, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictCount:
    """How many of something got each verdict word."""

    kind: ClassVar[str] = "verdict_count"
    subject: str
    counts: tuple[tuple[Word, int], ...]

    @property
    def total(self) -> int:
        """Number of all."""
        return sum(count for _, count in self.counts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A picture of one or more panels.

    Attributes
    ----------
    panels : tuple of str
        SVG pictures, each able to stand alone; a writer sets them side by side where there is room.
    caption : str
        What is to be seen.
    wide : bool
        Whether the panel needs the full width and may be scrolled sideways on small screens.
    """

    kind: ClassVar[str] = "figure"
    panels: tuple[str, ...]
    caption: str
    wide: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A table column; with a `unit` every number in it is of that inside unit and bare.

    `number` sets it to the right, `prose` gives whole sentences the room they need.
    """

    title: str
    unit: str | None = None
    number: bool = False
    prose: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; ``sortable`` and ``filterable`` are offers a writer may leave out.

    Raises
    ------
    ValueError
        If a row has not as many cells as there are columns.
    """

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    sortable: bool = False
    filterable: bool = False

    def __post_init__(self) -> None:
        """Refuse ragged rows."""
        for k, row in enumerate(self.rows):
            if len(row) != len(self.columns):
                found = f"{len(row)} cells in {len(self.columns)} columns"
                raise ValueError(f"table {self.caption!r}, row {k}: {found}")


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingCard:
    """One finding with everything it rests on.

    Attributes
    ----------
    rank : int
        1 is the gravest.
    name, subject, quantity : str
        Identifier, what it is about, and the measure in words.
    verdict : Verdict
        Word, measured value and limit.
    why : str
        One plain sentence.
    against : str
        The other half of the pairing, where there is one.
    note : str
        What could not be shown, and why.
    figures : tuple of Figure
        What is to be seen.
    """

    kind: ClassVar[str] = "finding"
    rank: int
    name: str
    subject: str
    quantity: str
    verdict: Verdict
    why: str
    against: str = ""
    note: str = ""
    figures: tuple[Figure, ...] = ()

    @property
    def measured(self) -> Quantity:
        """The measured value as a quantity."""
        measured = self.verdict.measured
        return Quantity(
            value=measured.value,
            unit=measured.unit,
            expanded=measured.expanded,
            reason=measured.reason or self.verdict.why_not,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bibliography:
    """The sources a report rests on, with how far each was seen."""

    kind: ClassVar[str] = "bibliography"
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Blocks side by side where there is room."""

    kind: ClassVar[str] = "columns"
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """Blocks that a page may fold away; print shows them."""

    kind: ClassVar[str] = "details"
    summary: str
    blocks: tuple[Block, ...]


Block = (
    Paragraph
    | Bullets
    | Caution
    | KeyNumbers
    | VerdictCount
    | Figure
    | Table
    | FindingCard
    | Bibliography
    | Columns
    | Details
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A headed part of a document; `name` is unique and becomes its anchor."""

    name: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A whole report.

    Attributes
    ----------
    title, subtitle : str
        Heading.
    opening : tuple of Block
        What stands before the first section: banner, what it is.
    sections : tuple of Section
        In reading order.
    units : {"metric", "us"}
        How quantities are shown first.
    language : str
        Of the text, for readers aloud.

    Raises
    ------
    ValueError
        If two sections share a name.
    """

    title: str
    subtitle: str = ""
    opening: tuple[Block, ...] = ()
    sections: tuple[Section, ...] = ()
    units: UnitSystem = "metric"
    language: str = "en"

    def __post_init__(self) -> None:
        """Refuse anchors that are not unique."""
        names = [section.name for section in self.sections]
        if len(set(names)) != len(names):
            raise ValueError(f"sections share a name: {', '.join(names)}")

    def walk(self) -> Iterator[Block]:
        """Go through all blocks in reading order, nested ones after their holder."""
        yield from _walk(self.opening)
        for section in self.sections:
            yield from _walk(section.blocks)


def _walk(blocks: tuple[Block, ...]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Columns | Details):
            yield from _walk(block.blocks)
        elif isinstance(block, FindingCard):
            yield from block.figures
