"""Tables in text files: how one is written, found from its first lines; then its rows in blocks.

Line numbers are those of the file, whatever is skipped, so that a refusal names the right place.
Memory stays bounded: a file is decoded and handed on block by block.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from tapertread.errors import FileRefused, Where
from tapertread.shapes.outline import Floats
from tapertread.shapes.reading.recipe_fields import FileForm
from tapertread.shapes.reading.table_chunk import Chunk, Lines
from tapertread.shapes.reading.text_form import (
    bad_encoding,
    comment_sign,
    empty_file,
    find_delimiter,
    find_encoding,
    is_number,
    is_skipped,
    sample_lines,
    shortened,
    split_line,
)

SAMPLE_CHARACTERS = 1 << 18
LONGEST_BLOCK = 1 << 26
_QUOTED = r'(?m)(^|{sign})"(?:[^"\n]|"")*"(?={sign}|$)'


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A text file whose form is known.

    Attributes
    ----------
    path : Path
    encoding, delimiter, comment : str
        As a recipe says them, none of them ``auto``.
    first_row : tuple of str
        Cells of the first line that is neither blank nor a comment, after the lines to skip.
    header : bool
        Whether that line holds names (it may still turn out to hold numbers).
    sample : tuple of (int, tuple of str)
        Line number and cells of the first data lines.
    data_line : int
        Line number of the first data line.
    """

    path: Path
    encoding: str
    delimiter: str
    comment: str
    first_row: tuple[str, ...]
    header: bool
    sample: tuple[tuple[int, tuple[str, ...]], ...]
    data_line: int

    @property
    def column_count(self) -> int:
        """Number of columns."""
        return len(self.first_row)

    def chunks(self, *, rows: int) -> Iterator[Chunk]:
        """Yield the data in blocks of about so many rows.

        Raises
        ------
        FileRefused
            If a line has more cells than the table has columns, a cell is broken over two lines,
            or the text does not fit its encoding.
        """
        try:
            for line, text in self._blocks(rows):
                yield self._chunk(line, text)
        except UnicodeDecodeError as fault:
            raise bad_encoding(self.path, self.encoding, fault) from None

    def _blocks(self, rows: int) -> Iterator[tuple[int, str]]:
        width = np.mean([len("".join(cells)) + len(cells) for _, cells in self.sample] or [80])
        size = min(LONGEST_BLOCK, max(4096, int(rows * width)))
        with self.path.open(encoding=self.encoding) as stream:
            for _ in range(self.data_line - 1):
                stream.readline()
            line = self.data_line
            while text := stream.read(size):
                text += stream.readline()
                yield line, text
                line += text.count("\n")

    def _chunk(self, first_line: int, text: str) -> TextChunk:
        text = text if text.endswith("\n") else text + "\n"
        lines = first_line + np.arange(text.count("\n"), dtype=np.int64)
        if self._has_lines_to_drop(text):
            text, lines = self._dropped(text, lines)
        if self.delimiter == "whitespace":
            text = re.sub(r"(?m)^[ \t]+|[ \t]+$", "", text)
            text = re.sub(r"[ \t]+", "\t", text)
        separator = "\t" if self.delimiter == "whitespace" else self.delimiter
        content = text.encode()
        width = self._widest(text, content, lines=lines, separator=separator)
        return TextChunk(lines=lines, content=content, separator=separator, columns=width)

    def _has_lines_to_drop(self, text: str) -> bool:
        blank = "\n\n" in text or text.startswith("\n")
        sign = comment_sign(self.comment)
        return blank or (bool(sign) and sign in text)

    def _dropped(self, text: str, lines: Lines) -> tuple[str, Lines]:
        rows = text[:-1].split("\n")
        kept = [at for at, row in enumerate(rows) if not is_skipped(row, self.comment)]
        if self.comment == "auto":
            for at in set(range(len(rows))) - set(kept):
                self._refuse_hidden_row(rows[at], line=int(lines[at]))
        return "".join(rows[at] + "\n" for at in kept), lines[kept]

    def _refuse_hidden_row(self, row: str, *, line: int) -> None:
        """Refuse a comment that may be a measured point of an asset whose name begins so."""
        cells = split_line(row, self.delimiter)
        if len(cells) >= self.column_count > 1 and sum(map(is_number, cells)) > 1:
            raise FileRefused(
                "comment-like-row",
                f"a comment that looks like a row of the table: {shortened(row)}",
                allowed="comments that are no rows, or a recipe that says what begins a comment",
                todo='take the line out, or set file.comment in a recipe ("#", or "" for none)',
                where=Where(file=str(self.path), line=line),
            )

    def _widest(self, text: str, content: bytes, *, lines: Lines, separator: str) -> int:
        """Return the most cells of a line; beyond the table's columns they must be blank."""
        if '"' in text:
            bare = re.sub(_QUOTED.format(sign=re.escape(separator)), r"\1q", text)
            if '"' in bare:
                at = bare[: bare.index('"')].count("\n")
                raise _broken_cell(self.path, int(lines[at]))
            content = bare.encode()
        signs = np.frombuffer(content, dtype=np.uint8)
        ends = np.flatnonzero(signs == ord("\n"))
        before = np.searchsorted(np.flatnonzero(signs == ord(separator)), ends)
        excess = np.flatnonzero(np.diff(before, prepend=0) >= self.column_count)
        if not excess.size:
            return self.column_count
        rows = text.split("\n")
        for at in excess.tolist():
            cells = split_line(rows[at], separator)
            if any(cell.strip() for cell in cells[self.column_count :]):
                raise _too_many_cells(self, int(lines[at]), cells)
        return int(np.diff(before, prepend=0).max()) + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class TextChunk:
    """A block of clean lines: no blank ones, no comments, one delimiter."""

    lines: Lines
    content: bytes
    separator: str
    columns: int
    knows_numbers: bool = False

    def _frame(self, wanted: dict[int, pl.DataType | type[pl.DataType]]) -> pl.DataFrame:
        """Return the wanted columns (index → type), named by their index."""
        if not self.content:
            return pl.DataFrame(schema={str(at): kind for at, kind in wanted.items()})
        schema = {str(at): wanted.get(at, pl.String) for at in range(self.columns)}
        frame = pl.read_csv(
            self._widest_line() + self.content,
            has_header=False,
            separator=self.separator,
            schema=schema,
            columns=sorted(wanted),
            ignore_errors=True,
        )
        return frame.select(str(at) for at in wanted).slice(1)

    def _widest_line(self) -> bytes:
        """Return a blank line with all columns: the parser counts them in the first line."""
        return (self.separator * (self.columns - 1) + "\n").encode()

    def numbers(self, columns: tuple[int, ...]) -> Floats:
        """Return columns as float64, shape (rows, columns); NaN where a cell is no plain number."""
        return self._frame(dict.fromkeys(columns, pl.Float64)).to_numpy(order="fortran")

    def texts(self, columns: tuple[int, ...]) -> pl.DataFrame:
        """Return columns as text, null where blank."""
        return self._frame(dict.fromkeys(columns, pl.String))


def open_text(path: Path, form: FileForm) -> TextTable:
    """Find out how a text file is written.

    Raises
    ------
    FileRefused
        If it is empty, binary, not in its encoding, or has one column only.
    RecipeRefused
        If the recipe's delimiter does not divide it.
    """
    encoding = find_encoding(path, form)
    try:
        with path.open(encoding=encoding) as stream:
            text = stream.read(SAMPLE_CHARACTERS)
    except UnicodeDecodeError as fault:
        raise bad_encoding(path, encoding, fault) from None
    lines = text.split("\n")
    if len(lines) > 1 and len(text) >= SAMPLE_CHARACTERS:
        lines.pop()
    first, rows = sample_lines(lines, form)
    if first is None:
        raise empty_file(path)
    delimiter = find_delimiter(path, [first[1], *(row for _, row in rows)], form)
    header = split_line(first[1], delimiter)
    while len(header) > 1 and not header[-1].strip():
        header = header[:-1]
    data_line = first[0] + 1 + form.skip_after_header if form.header else first[0]
    sample = [
        (line, tuple(split_line(row, delimiter)))
        for line, row in (rows if form.header else [first, *rows])
    ]
    if not form.header:
        widest = max(len(cells) for _, cells in sample)
        header += [""] * (widest - len(header))
    return TextTable(
        path=path,
        encoding=encoding,
        delimiter=delimiter,
        comment=form.comment,
        first_row=tuple(cell.strip() for cell in header),
        header=form.header,
        sample=tuple(sample),
        data_line=data_line,
    )


def _broken_cell(path: Path, line: int) -> FileRefused:
    return FileRefused(
        "unbalanced-quote",
        "a quotation mark within a cell, or without its partner on the same line",
        allowed="quotation marks around whole cells only, doubled within them",
        todo="take the quotation mark or the line break out of the cell",
        where=Where(file=str(path), line=line),
    )


def _too_many_cells(table: TextTable, line: int, cells: list[str]) -> FileRefused:
    comma = table.delimiter == "," and len(cells) == 2 * table.column_count
    found = f"{len(cells)} cells where the table has {table.column_count} columns"
    if comma:
        return FileRefused(
            "ambiguous-decimal-comma",
            f"{found}: the comma seems to be decimal sign and delimiter at once",
            allowed="decimal commas only with another delimiter or with quoted cells",
            todo="export with `;` or tab between the cells",
            where=Where(file=str(table.path), line=line),
        )
    return FileRefused(
        "too-many-cells",
        found,
        allowed="as many cells in each line as in the first",
        todo="correct the line, or name delimiter and header lines in a recipe",
        where=Where(file=str(table.path), line=line),
    )
