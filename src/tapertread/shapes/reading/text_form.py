"""How a text file is written, found from its first lines: encoding, delimiter, where data begin."""

from __future__ import annotations

import codecs
import csv
import re
from pathlib import Path

from tapertread.errors import FileRefused, RecipeRefused, Where
from tapertread.shapes.reading.recipe_fields import DELIMITER_WORDS, FileForm

DELIMITERS = ("\t", ";", "|", ",", "whitespace")
"""Tried in this order: a sign further on may also stand within a cell."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)*|[.,]\d+)([eE][+-]?\d+)?")


def is_number(cell: str) -> bool:
    """Return whether a cell looks like a number, with either decimal sign."""
    return _NUMBER.fullmatch(cell.strip()) is not None


def split_line(line: str, delimiter: str) -> list[str]:
    """Return the cells of one line, quotes taken off."""
    if delimiter == "whitespace":
        return line.split()
    try:
        return next(csv.reader([line], delimiter=delimiter), [""])
    except csv.Error:  # a cell longer than any cell of a table
        return line.split(delimiter)


def is_skipped(line: str, comment: str) -> bool:
    """Return whether a line is blank or a comment."""
    bare = line.strip()
    sign = comment_sign(comment)
    return not bare or (bool(sign) and bare.startswith(sign))


def comment_sign(comment: str) -> str:
    """Return the sign that begins a comment, or nothing where there are none."""
    return "#" if comment == "auto" else comment


def sample_lines(
    lines: list[str], form: FileForm
) -> tuple[tuple[int, str] | None, list[tuple[int, str]]]:
    """Return the first line that says something and the data lines after it, with numbers."""
    numbered = enumerate(lines[form.skip_lines :], start=form.skip_lines + 1)
    kept = [(number, line) for number, line in numbered if not is_skipped(line, form.comment)]
    if not kept:
        return None, []
    begin = kept[0][0] + form.skip_after_header if form.header else kept[0][0]
    return kept[0], [row for row in kept[1:] if row[0] > begin]


def find_encoding(path: Path, form: FileForm) -> str:
    """Return the encoding that the recipe or a byte order mark says, else UTF-8.

    Raises
    ------
    FileRefused
        If the file is empty, or its bytes are no text.
    """
    with path.open("rb") as stream:
        head = stream.read(4096)
    if not head:
        raise empty_file(path)
    marked = next((name for mark, name in _MARKS if head.startswith(mark)), "")
    said = "" if form.encoding == "auto" else codecs.lookup(form.encoding).name
    wide = marked == "utf-16" or said.startswith(("utf-16", "utf-32"))
    if b"\x00" in head and not wide:
        raise FileRefused(
            "binary-file",
            "bytes that are not text",
            allowed="text (CSV, TXT), a workbook .xlsx or a .parquet file",
            todo="export the measurement as text, or correct the file name's ending",
            where=Where(file=str(path)),
        )
    if said in ("", "utf-8"):
        return marked or "utf-8"
    return said


def find_delimiter(path: Path, lines: list[str], form: FileForm) -> str:
    """Return the recipe's delimiter, or the one by which most lines agree with the first.

    Raises
    ------
    FileRefused
        If no delimiter divides the first line.
    RecipeRefused
        If the recipe's does not.
    """
    said = DELIMITER_WORDS.get(form.delimiter, form.delimiter)
    if said != "auto":
        if len(split_line(lines[0], said)) < 2:
            raise RecipeRefused(
                "delimiter-contradicts",
                f"no delimiter {form.delimiter!r} in the line {shortened(lines[0])}",
                allowed="the sign that stands between the file's cells",
                todo="correct file.delimiter in the recipe, or set it to `auto`",
                where=Where(file=str(path), record="file.delimiter"),
            )
        return said
    able = [sign for sign in DELIMITERS if len(split_line(lines[0], sign)) > 1]
    if not able:
        raise FileRefused(
            "one-column",
            f"one column only, beginning with {shortened(lines[0])}",
            allowed="at least the two columns y and z",
            todo="export both coordinates, or name delimiter and lines to skip in a recipe",
            where=Where(file=str(path)),
        )
    return max(able, key=lambda sign: (_agreement(lines, sign), -DELIMITERS.index(sign)))


def _agreement(lines: list[str], sign: str) -> int:
    """Return how many of the first lines have as many cells as the first one."""
    counts = [len(split_line(line.rstrip(sign), sign)) for line in lines[:50]]
    return sum(count == counts[0] for count in counts)


def shortened(line: str) -> str:
    """Return the beginning of a line, quoted, for a message."""
    return repr(line if len(line) <= 40 else line[:37] + "...")


def empty_file(path: Path) -> FileRefused:
    """Return the refusal of a file that says nothing."""
    return FileRefused(
        "empty-file",
        "nothing but blank lines or comments",
        allowed="a table of points",
        todo="export the measurement again",
        where=Where(file=str(path)),
    )


def bad_encoding(path: Path, encoding: str, fault: UnicodeDecodeError) -> FileRefused:
    """Return the refusal of bytes that do not fit an encoding, with their line."""
    line = None
    with path.open("rb") as stream:
        for number, row in enumerate(stream, start=1):
            try:
                row.decode(encoding)
            except UnicodeDecodeError:
                line = number
                break
    return FileRefused(
        "bad-encoding",
        f"bytes that are not {encoding} ({fault.reason})",
        allowed="UTF-8, or the encoding that a recipe names",
        todo='save as UTF-8, or set file.encoding in a recipe (old spreadsheets: "cp1252")',
        where=Where(file=str(path), line=line),
    )
