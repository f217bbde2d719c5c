"""A design's name, a drawing file or an outline file: the shape that is meant.

A measured outline is cleaned before anything touches it. Where its design is named it is carried
into the design's axes by its unworn parts; else the file's own axes hold. A wheel's worn tread is
set to z = 0 at the tape line, where its diameter is measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tapertread.errors import (
    DrawingRefused,
    FileRefused,
    OutlineRefused,
    RefusedInput,
    Where,
    WrongUsage,
)
from tapertread.shapes.alignment import Datum
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.designs import design_called, design_drawing
from tapertread.shapes.drawing.curve import Drawing, read_drawing
from tapertread.shapes.inspect import Alongside, MeasuredOutline, measure_outline
from tapertread.shapes.outline import Kind, Outline, Side
from tapertread.shapes.reading.outlines import read_outline
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.reading.recipe_fields import LengthUnit
from tapertread.shapes.wheels.aligning import align_wheel

DRAWING_ENDING = ".toml"
ANY_WHEEL = "S1002"
"""The design that placing a wheel by its file's own axes asks for and makes no use of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How to read outline files, and what a measured outline was when new.

    Attributes
    ----------
    units : {"mm", "in"} or None
        Unit of y and z; beats the header.
    recipe : Path or None
        How the file is laid out.
    design : str or None
        Name or drawing file of the new shape.
    tube_radius_mm : float or None
        Radius of the rail ``tube``.
    """

    units: LengthUnit | None = None
    recipe: Path | None = None
    design: str | None = None
    tube_radius_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Which:
    """Which outline of a file that holds several; ``None`` where it does not matter."""

    asset: str | None = None
    side: Side | None = None
    campaign: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenShape:
    """A shape ready for contact, and what a reader must know of it."""

    outline: Outline
    notes: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Its name, with the mark of a doubtful shape."""
        return self.outline.origin.label

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON."""
        origin = self.outline.origin
        return {"name": origin.name, "label": origin.label, "status": origin.status}


def shape_given(text: str, *, kind: Kind, reading: Reading) -> GivenShape:
    """Return the shape that a command's argument names.

    Parameters
    ----------
    text : str
        Name of a design, or path of a drawing file (.toml) or an outline file.
    kind : {"wheel", "rail"}
        What it has to be.
    reading : Reading
        How files are read.

    Raises
    ------
    RefusedInput
        If there is no such shape, it is of the other kind, or it cannot be trusted.
    WrongUsage
        If a tube radius is given for another rail.
    """
    if is_drawing(text):
        shape = _drawn(text, kind=kind, tube_radius_mm=reading.tube_radius_mm)
        return GivenShape(outline=shape.outline(), notes=_reservation(shape))
    try:
        return _measured(Path(text), kind=kind, reading=reading)
    except RefusedInput as refused:
        raise refused.at(file=text) from None


def drawing_given(text: str, *, kind: Kind) -> Drawing:
    """Return the drawing that a design's name or a drawing file names.

    Raises
    ------
    RefusedInput
        If there is no such drawing, or it is of the other kind.
    """
    if not is_drawing(text):
        raise DrawingRefused(
            "not-a-drawing",
            f"the outline file {text}",
            allowed="the name of a design, or a drawing file (.toml)",
            todo="name the shape when new",
        )
    return _drawn(text, kind=kind, tube_radius_mm=None)


def is_drawing(text: str) -> bool:
    """Return whether an argument names a design or a drawing file, rather than an outline file."""
    looks_like_path = Path(text).suffix != "" or Path(text).exists() or "/" in text
    return bool(design_called(text)) or text.lower().endswith(DRAWING_ENDING) or not looks_like_path


def _drawn(text: str, *, kind: Kind, tube_radius_mm: float | None) -> Drawing:
    from_file = not design_called(text) and text.lower().endswith(DRAWING_ENDING)
    options = {} if tube_radius_mm is None else {"radius_mm": tube_radius_mm}
    if from_file and options:
        raise WrongUsage("--tube-radius belongs to the rail tube alone")
    drawing = read_drawing(text) if from_file else design_drawing(text, **options)
    _refuse_other_kind(drawing.kind, kind, text)
    return drawing


def _refuse_other_kind(found: Kind, wanted: Kind, text: str) -> None:
    if found != wanted:
        raise OutlineRefused(
            "wrong-kind",
            f"{text} is a {found} where a {wanted} belongs",
            allowed=f"the shape of a {wanted}",
            todo="check which shape goes where",
        )


def _reservation(drawing: Drawing) -> tuple[str, ...]:
    origin = drawing.origin
    if origin.status != "doubtful":
        return ()
    return (f"{origin.label}: {origin.note}",)


def _measured(path: Path, *, kind: Kind, reading: Reading) -> GivenShape:
    if reading.tube_radius_mm is not None:
        raise WrongUsage("--tube-radius belongs to the rail tube alone")
    raw = raw_outline(path, kind=kind, reading=reading)
    if reading.design is not None:
        done = inspected(raw, design=drawing_given(reading.design, kind=kind))
        refuse_untrusted(done, path)
        return GivenShape(outline=done.outline, notes=_what_was_done(done, path))
    cleaned = clean(raw.outline, stylus_radius_mm=raw.stylus_radius_mm)
    outline = cleaned.outline
    if kind == "wheel":
        by_file = align_wheel(cleaned, design=design_drawing(ANY_WHEEL), datum="given")
        outline = by_file.outline
    notes = (
        f"{path.name}: the file's own axes hold; no design was named to check them against",
        *(f"{path.name}: {step}" for step in cleaned.steps),
    )
    return GivenShape(outline=outline, notes=notes)


def raw_outline(path: Path, *, kind: Kind, reading: Reading, which: Which = Which()) -> RawOutline:
    """Return the one outline of a file, or the one that `which` chooses.

    Raises
    ------
    RefusedInput
        If the file cannot be read, or holds another number or kind of outlines.
    """
    if not path.exists():
        raise FileRefused(
            "missing-file",
            "no such file",
            allowed="the name of a design, a drawing file or an outline file",
            todo="check the path; `tapertread list designs` names the designs",
            where=Where(file=str(path)),
        )
    raw = read_outline(
        path,
        reading.recipe,
        kind=kind,
        units=reading.units,
        asset=which.asset,
        side=which.side,
        campaign=which.campaign,
    )
    _refuse_other_kind(raw.kind, kind, str(path))
    return raw


def inspected(
    raw: RawOutline, *, design: Drawing, datum: Datum = "fit", alongside: Alongside | None = None
) -> MeasuredOutline:
    """Return an outline through the whole chain, its refusals completed by the file's name."""
    try:
        return measure_outline(
            raw, kind=design.kind, design=design, datum=datum, alongside=alongside
        )
    except OutlineRefused as refused:
        raise refused.at(file=raw.file, record=raw.record) from None


def refuse_untrusted(
    done: MeasuredOutline, path: Path, *, todo: str = "measure again, or correct the file"
) -> None:
    """Refuse an outline that a trap says cannot be trusted, by the name of the trap.

    Raises
    ------
    OutlineRefused
        With the first such trap as its code.
    """
    for trap in done.traps:
        if trap.severity == "refuse":
            raise OutlineRefused(
                trap.name,
                trap.found,
                allowed="an outline that can be trusted",
                todo=todo,
                where=Where(file=str(path)),
            )


def _what_was_done(done: MeasuredOutline, path: Path) -> tuple[str, ...]:
    marks = [f"{trap.name}: {trap.found}" for trap in done.traps if trap.severity != "refuse"]
    steps = (*done.cleaned.steps, *done.aligned.notes, *marks)
    return tuple(f"{path.name}: {step}" for step in steps)
