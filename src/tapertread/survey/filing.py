"""Filing one import in the store: the bytes of the file, and rows that take others' places."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, insert, select, update

from tapertread.errors import FileRefused, RefusedInput, Where
from tapertread.survey import schema
from tapertread.survey.report import FileImport, why_of

CHUNK_BYTES = 1 << 22
FAST_DEFLATE = 1
BATCH = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One way of reading one file: its bytes, what they are taken for, the recipe as JSON.

    ``name`` is how the store calls the file: within a raw folder by its path from there.
    """

    path: Path
    name: str
    sha256: str
    kind: str
    recipe: str = ""

    @property
    def recipe_sha256(self) -> str:
        """Checksum of the recipe; empty without one."""
        return hashlib.sha256(self.recipe.encode()).hexdigest() if self.recipe else ""


def checksum(path: Path) -> str:
    """Return the SHA-256 of a file's bytes.

    Raises
    ------
    FileRefused
        ``unreadable-file``.
    """
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as fault:
        raise FileRefused(
            "unreadable-file",
            f"a file that cannot be opened ({fault.strerror})",
            allowed="a file that exists and may be read",
            todo="check its path and rights",
            where=Where(file=str(path)),
        ) from None


def earlier_import(connection: Connection, reading: Reading) -> FileImport | None:
    """Return what came of the same bytes read the same way before, ``None`` where never."""
    table = schema.imports
    found = connection.execute(
        select(table.c.added, table.c.already_there).where(
            table.c.sha256 == reading.sha256,
            table.c.kind == reading.kind,
            table.c.recipe_sha256 == reading.recipe_sha256,
        )
    ).first()
    if found is None:
        return None
    return FileImport(file=str(reading.path), kind=reading.kind, already_there=sum(found))


def begin_import(connection: Connection, reading: Reading) -> int:
    """Enter an import, with the bytes of its file, and return its number.

    Raises
    ------
    FileRefused
        ``changed-while-reading`` where the bytes are no longer those of the checksum.
    """
    known = select(schema.raw.c.sha256).where(schema.raw.c.sha256 == reading.sha256)
    if connection.scalar(known) is None:
        _keep_bytes(connection, reading)
    number = schema.last_import(connection) + 1
    connection.execute(
        insert(schema.imports).values(
            id=number,
            file=reading.name,
            sha256=reading.sha256,
            kind=reading.kind,
            recipe=reading.recipe,
            recipe_sha256=reading.recipe_sha256,
        )
    )
    return number


def finish_import(connection: Connection, number: int, done: FileImport) -> None:
    """Enter how an import ended."""
    connection.execute(
        update(schema.imports)
        .where(schema.imports.c.id == number)
        .values(added=done.added, already_there=done.already_there, superseded=done.superseded)
    )


def keep_refusals(
    connection: Connection, refusals: Iterable[RefusedInput], *, name: str, sha256: str
) -> None:
    """Keep why a file was refused; the same refusal of the same bytes is kept once."""
    known = select(schema.refused.c.why).where(schema.refused.c.sha256 == sha256)
    seen = set(connection.scalars(known))
    for refusal in refusals:
        why = f"{_line_of(refusal)}{why_of(refusal)}"
        if why in seen:
            continue
        seen.add(why)
        connection.execute(
            insert(schema.refused).values(
                file=name,
                sha256=sha256,
                code=refusal.code,
                line=refusal.where.line,
                column=refusal.where.column,
                record=refusal.where.record,
                found=refusal.found,
                allowed=refusal.allowed,
                todo=refusal.todo,
                why=why,
            )
        )


def raw_bytes(connection: Connection, sha256: str) -> bytes:
    """Return the bytes of a file as they were brought in.

    Raises
    ------
    KeyError
        If no such file was.
    """
    chunks = connection.scalars(
        select(schema.raw_chunk.c.deflated)
        .where(schema.raw_chunk.c.sha256 == sha256)
        .order_by(schema.raw_chunk.c.ordinal)
    ).all()
    known = select(schema.raw.c.sha256).where(schema.raw.c.sha256 == sha256)
    if connection.scalar(known) is None:
        raise KeyError(sha256)
    return b"".join(zlib.decompress(chunk) for chunk in chunks)


def _keep_bytes(connection: Connection, reading: Reading) -> None:
    size = reading.path.stat().st_size
    connection.execute(insert(schema.raw).values(sha256=reading.sha256, size_bytes=size))
    digest = hashlib.sha256()
    with reading.path.open("rb") as stream:
        for ordinal, chunk in enumerate(iter(lambda: stream.read(CHUNK_BYTES), b"")):
            digest.update(chunk)
            connection.execute(
                insert(schema.raw_chunk).values(
                    sha256=reading.sha256,
                    ordinal=ordinal,
                    deflated=zlib.compress(chunk, FAST_DEFLATE),
                )
            )
    if digest.hexdigest() != reading.sha256:
        raise FileRefused(
            "changed-while-reading",
            "a file that changed while it was read",
            allowed="files at rest",
            todo="import it again when nothing writes it",
            where=Where(file=str(reading.path)),
        )


def _line_of(refusal: RefusedInput) -> str:
    return "" if refusal.where.line is None else f"line {refusal.where.line}: "
