"""Reading a drawing file: TOML into records in mm, or refused with its line."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import msgspec
from msgspec import structs

from tapertread.errors import DrawingRefused, Where
from tapertread.shapes.drawing.records import (
    PIECE_RECORDS,
    VERSION,
    AnyPiece,
    DrawingRecord,
    PolynomialRecord,
)
from tapertread.units import MM_PER_INCH

LARGEST_NUMBER = 1e6
LARGEST_COEFFICIENT = 1e12
"""Beyond these a number is no size, slope or angle, and arithmetic would overflow."""


class Places:
    """Where the pieces and anchors of a file stand, for refusals."""

    def __init__(self, text: str, *, file: str | None) -> None:
        """Find the lines at which ``[[piece]]`` and ``[[anchor]]`` begin."""
        self.file = file
        self._lines: dict[str, list[int]] = {"piece": [], "anchor": []}
        for number, line in enumerate(text.splitlines(), start=1):
            header = re.match(r"\s*\[\[\s*(piece|anchor)\s*\]\]", line)
            if header:
                self._lines[header[1]].append(number)

    def of(self, index: int, *, name: str = "", table: str = "piece") -> Where:
        """Return the place of the piece or anchor of an index, counted from 0."""
        lines = self._lines[table]
        record = f"{table} {index + 1}" + (f" ({name})" if name else "")
        return Where(
            file=self.file, line=lines[index] if index < len(lines) else None, record=record
        )


def parse(text: str, *, file: str | None = None) -> tuple[DrawingRecord, Places]:
    """Read the text of a drawing file.

    Parameters
    ----------
    text : str
        Content of the file.
    file : str, optional
        Name used in refusals.

    Returns
    -------
    DrawingRecord
        With all lengths in mm.
    Places
        Where its pieces stand.

    Raises
    ------
    DrawingRefused
        If the text is not TOML, not a drawing of this version, or has unknown or wrong keys.
    """
    places = Places(text, file=file)
    content = _toml(text, file)
    _check_version(content, file)
    _check_keys(content, places)
    _check_numbers(content, places)
    try:
        record = msgspec.convert(content, DrawingRecord)
    except msgspec.ValidationError as error:
        raise _not_the_format(str(error), places) from None
    _check_tape_line(record, file)
    return _in_mm(record), places


def ratio(slope: float | str) -> float:
    """Return a slope given as a number or as ``"1:40"``."""
    if isinstance(slope, str):
        rise, run = slope.split(":")
        return float(rise) / float(run)
    return slope


def _toml(text: str, file: str | None) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"at line (\d+)", str(error))
        raise DrawingRefused(
            "not-toml",
            f"text that is not TOML ({error})",
            allowed="a TOML file that begins with drawing = 1",
            todo="correct this line; docs/drawing.md shows a whole example",
            where=Where(file=file, line=int(at[1]) if at else None),
        ) from None


def _check_version(content: Mapping[str, Any], file: str | None) -> None:
    version = content.get("drawing")
    if version != VERSION or isinstance(version, bool):
        found = "no key drawing" if version is None else f"drawing = {version!r}"
        raise DrawingRefused(
            "drawing-version",
            found,
            allowed=f"drawing = {VERSION}",
            todo=f"state drawing = {VERSION} if the file follows docs/drawing.md",
            where=Where(file=file),
        )


def _check_keys(content: Mapping[str, Any], places: Places) -> None:
    """Refuse an unknown key by naming the nearest known one."""
    _check_table(content, structs.fields(DrawingRecord), Where(file=places.file))
    for table in ("piece", "anchor"):
        entries = content.get(table, [])
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            record = PIECE_RECORDS.get(str(entry.get("type"))) if isinstance(entry, dict) else None
            if record is not None:
                where = places.of(index, name=str(entry.get("name", "")), table=table)
                _check_table(entry, structs.fields(record), where, extra=("type",))


def _check_numbers(content: Mapping[str, Any], places: Places) -> None:
    """Refuse numbers that are not finite or too large to be a size, a slope or an angle."""
    tables: list[tuple[Mapping[str, Any], Where]] = [(content, Where(file=places.file))]
    for table in ("piece", "anchor"):
        entries = content.get(table, [])
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            if isinstance(entry, dict):
                name = str(entry.get("name", ""))
                tables.append((entry, places.of(index, name=name, table=table)))
    for entry, where in tables:
        for key, value in entry.items():
            largest = LARGEST_COEFFICIENT if key == "coefficients" else LARGEST_NUMBER
            for number in value if isinstance(value, list) else [value]:
                if isinstance(number, int | float) and not abs(number) <= largest:
                    raise DrawingRefused(
                        "number-out-of-range",
                        f"{key} with {number}",
                        allowed=f"finite numbers up to {largest:g}",
                        todo="correct this number",
                        where=replace(where, column=key),
                    )


def _check_table(
    table: Mapping[str, Any],
    fields: tuple[structs.FieldInfo, ...],
    where: Where,
    *,
    extra: tuple[str, ...] = (),
) -> None:
    known = [field.encode_name for field in fields] + list(extra)
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            raise DrawingRefused(
                "unknown-key",
                f"the key {key!r}",
                allowed=", ".join(known),
                todo=f"write {near[0]!r}" if near else "remove it",
                where=where,
            )


def _not_the_format(message: str, places: Places) -> DrawingRefused:
    """Turn a validation message such as ``… - at `$.piece[1].radius``` into a refusal."""
    what, _, path = message.partition(" - at ")
    at = re.search(r"\$\.(piece|anchor)\[(\d+)\]", path)
    where = places.of(int(at[2]), table=at[1]) if at else Where(file=places.file)
    key = re.search(r"\.(\w+)(?:\[\d+\])?`?$", path)
    column = key[1] if key and key[1] not in ("piece", "anchor") else None
    return DrawingRefused(
        "not-the-format",
        what[:1].lower() + what[1:],
        allowed="the keys and values of docs/drawing.md",
        todo="correct this entry",
        where=Where(file=where.file, line=where.line, record=where.record, column=column),
    )


def _check_tape_line(record: DrawingRecord, file: str | None) -> None:
    given = [value for value in (record.tape_line_mm, record.tape_line_in) if value is not None]
    wanted = 1 if record.kind == "wheel" else 0
    if len(given) != wanted:
        raise DrawingRefused(
            "tape-line",
            f"{len(given)} tape lines in the drawing of a {record.kind}",
            allowed="tape_line_mm or tape_line_in for a wheel, neither for a rail",
            todo="state the distance from flange back to tape line once, for a wheel",
            where=Where(file=file),
        )


_LENGTH_KEYS = ("from_y", "from_z", "to_y", "to_z", "radius", "about_y")
_POINT_KEYS = ("from_", "to", "through", "centre")


def _in_mm(record: DrawingRecord) -> DrawingRecord:
    if record.units == "mm":
        return record
    return structs.replace(
        record,
        units="mm",
        piece=tuple(_piece_in_mm(piece) for piece in record.piece),
        anchor=tuple(_piece_in_mm(piece) for piece in record.anchor),
    )


def _piece_in_mm(piece: AnyPiece) -> AnyPiece:
    changes: dict[str, Any] = {}
    for key in _LENGTH_KEYS:
        value = getattr(piece, key, None)
        if value is not None:
            changes[key] = value * MM_PER_INCH
    for key in _POINT_KEYS:
        point = getattr(piece, key, None)
        if point is not None:
            changes[key] = (point[0] * MM_PER_INCH, point[1] * MM_PER_INCH)
    if isinstance(piece, PolynomialRecord):
        changes["coefficients"] = tuple(
            c * MM_PER_INCH ** (1.0 - power) for power, c in enumerate(piece.coefficients)
        )
    return structs.replace(piece, **changes)
