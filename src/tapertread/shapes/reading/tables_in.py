"""Opening a table of points, whatever kind of file it is in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from tapertread.errors import FileRefused, RecipeRefused, Where
from tapertread.shapes.reading.frame_table import open_parquet, open_sheet
from tapertread.shapes.reading.recipe_fields import FileForm
from tapertread.shapes.reading.table_chunk import Chunk
from tapertread.shapes.reading.text_table import open_text

_ENDINGS = {
    ".csv": "text",
    ".txt": "text",
    ".tsv": "text",
    ".dat": "text",
    ".asc": "text",
    ".xlsx": "xlsx",
    ".xlsm": "xlsx",
    ".parquet": "parquet",
}
_SIGNS = ((b"PK\x03\x04", "xlsx"), (b"PAR1", "parquet"), (b"\xd0\xcf\x11\xe0", "xls"))


class Table(Protocol):
    """A table whose columns can be counted and whose rows come in chunks."""

    @property
    def path(self) -> Path:
        """The file."""

    @property
    def first_row(self) -> tuple[str, ...]:
        """Cells of the first row: names, or data where there is no header."""

    @property
    def header(self) -> bool:
        """Whether the first row is meant to hold names."""

    @property
    def sample(self) -> tuple[tuple[int, tuple[str, ...]], ...]:
        """Line number and cells of the first data rows."""

    @property
    def column_count(self) -> int:
        """Number of columns."""

    def chunks(self, *, rows: int) -> Iterator[Chunk]:
        """Yield the data in blocks of about so many rows."""


def open_table(path: Path, form: FileForm) -> Table:
    """Open a file as the table that its recipe, its ending or its content says.

    Raises
    ------
    FileRefused
        If it is missing, empty, binary, or of another kind than it says.
    RecipeRefused
        If the recipe names another kind of file.
    """
    kind = _kind(path, form)
    if kind == "xlsx":
        return open_sheet(path, form)
    if kind == "parquet":
        return open_parquet(path)
    return open_text(path, form)


def _kind(path: Path, form: FileForm) -> str:
    content = _by_content(path)
    ending = _ENDINGS.get(path.suffix.lower(), "")
    if content == "xls":
        raise _wrong_kind(path, "an old binary workbook (.xls)")
    if form.format != "auto":
        said = "text" if form.format in ("csv", "txt") else form.format
        if content != said:
            raise _contradicts(path, form, content)
        return said
    if ending and content != ending:
        raise _wrong_kind(path, f"{_WORDS[content]} in a file named {path.suffix}")
    return content


_WORDS = {"text": "text or unknown bytes", "xlsx": "a workbook", "parquet": "Parquet data"}


def _by_content(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            head = stream.read(8)
    except OSError as fault:
        raise FileRefused(
            "unreadable-file",
            f"a file that cannot be opened ({fault.strerror})",
            allowed="a file that exists and may be read",
            todo="check its path and rights",
            where=Where(file=str(path)),
        ) from None
    if not head:
        raise FileRefused(
            "empty-file",
            "a file of 0 bytes",
            allowed="a table of points",
            todo="export the measurement again",
            where=Where(file=str(path)),
        )
    return next((kind for sign, kind in _SIGNS if head.startswith(sign)), "text")


def _wrong_kind(path: Path, found: str) -> FileRefused:
    return FileRefused(
        "wrong-file-kind",
        found,
        allowed="text (CSV, TXT), a workbook .xlsx or a .parquet file, named as what it is",
        todo="save it in one of these forms, with the matching ending",
        where=Where(file=str(path)),
    )


def _contradicts(path: Path, form: FileForm, content: str) -> RecipeRefused:
    return RecipeRefused(
        "format-contradicts",
        f"{_WORDS[content]} where the recipe says {form.format}",
        allowed="the format that the recipe names",
        todo="use another recipe, or set file.format to `auto`",
        where=Where(file=str(path), record="file.format"),
    )
