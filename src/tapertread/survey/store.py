"""Opening the store: one SQLite file in the survey folder.

Writers take a write-ahead log where the file system is local, flush every commit to disk, and put
the log back into the file at the end, so that at rest a store is one plain file that can be copied.
Readers open it read-only and change nothing, not even beside it.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import NullPool, QueuePool

from tapertread.errors import FileRefused, Where
from tapertread.survey.filesystem import is_local
from tapertread.survey.schema import MIGRATIONS, migrate, store_newer, version_of

STORE_NAME = "survey.sqlite"
PAGE_BYTES = 8192
BUSY_SECONDS = 30.0
APPLICATION_ID = 0x54545256
"""Marks the file as a store of ours in the header of SQLite."""


def store_path(folder: Path) -> Path:
    """Return where the store of a survey folder is."""
    return folder / STORE_NAME


def has_store(folder: Path) -> bool:
    """Return whether a folder holds a store."""
    return store_path(folder).is_file()


@contextmanager
def writing(folder: Path, *, busy_seconds: float = BUSY_SECONDS) -> Iterator[Engine]:
    """Open the store for writing, made or brought up to date first.

    Each ``engine.begin()`` within is one transaction that locks other writers out.

    Raises
    ------
    FileRefused
        ``store-newer``, ``store-not-ours``, ``store-busy``.
    """
    path = store_path(folder)
    engine = _engine(path, mode="rwc", busy_seconds=busy_seconds)
    event.listen(engine, "connect", _prepare_writer)
    event.listen(engine, "begin", _begin_immediate)
    try:
        with refusing(path):
            _set_up(engine, with_log=is_local(folder))
        try:
            with refusing(path):
                yield engine
        finally:
            _fold_log(engine)
    finally:
        engine.dispose()


@contextmanager
def reading(folder: Path) -> Iterator[Connection]:
    """Open the store read-only, as one consistent state.

    Only where an import was killed and left its journal behind, that import is undone first.

    Raises
    ------
    FileRefused
        ``no-store``, ``store-not-ours``, ``store-newer``, ``store-older``.
    """
    path = store_path(folder)
    if not path.is_file():
        raise FileRefused(
            "no-store",
            f"no {STORE_NAME}",
            allowed="a survey folder whose measurements have been brought in",
            todo="assess the folder with --out, or import its files",
            where=Where(file=str(path)),
        )
    with refusing(path):
        _undo_cut_off_import(path)
    engine = _engine(path, mode="ro", busy_seconds=BUSY_SECONDS)
    event.listen(engine, "connect", _prepare_reader)
    event.listen(engine, "begin", _begin_deferred)
    with refusing(path), engine.begin() as connection:
        _check_version(connection)
        yield connection


@contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Turn what the database says into refusals that a person can act on."""
    try:
        yield
    except FileRefused as fault:
        raise fault.at(file=str(path)) from None
    except (DatabaseError, sqlite3.DatabaseError) as fault:
        said = str(fault.orig if isinstance(fault, DatabaseError) else fault)
        if "not a database" in said or "malformed" in said:
            raise _not_ours(path, said) from fault
        if isinstance(fault, OperationalError | sqlite3.OperationalError):
            raise _operational(path, said) from fault
        raise


def _engine(path: Path, *, mode: str, busy_seconds: float) -> Engine:
    """Return an engine whose transactions begin where we say so, not where the driver guesses.

    Writers keep their one connection: closing the last one puts the log back into the file.
    """
    address = f"{path.resolve().as_uri()}?mode={mode}"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(address, uri=True, timeout=busy_seconds, isolation_level=None)

    if mode == "ro":
        return create_engine("sqlite://", creator=connect, poolclass=NullPool)
    return create_engine(
        "sqlite://", creator=connect, poolclass=QueuePool, pool_size=1, max_overflow=0
    )


def _prepare_writer(connection: sqlite3.Connection, _: object) -> None:
    connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")


def _prepare_reader(connection: sqlite3.Connection, _: object) -> None:
    connection.execute("PRAGMA query_only = ON")


def _undo_cut_off_import(path: Path) -> None:
    """Let the database put back what a killed import left half done, as no reader alone may."""
    if not path.with_name(path.name + "-journal").exists():
        return
    with _plain(path, "ro") as connection:
        try:
            connection.execute("SELECT count(*) FROM sqlite_master")
            return
        except sqlite3.OperationalError as fault:
            if not fault.sqlite_errorname.startswith("SQLITE_READONLY"):
                raise
    with _plain(path, "rw") as connection:
        connection.execute("SELECT count(*) FROM sqlite_master")


def _plain(path: Path, mode: str) -> contextlib.closing[sqlite3.Connection]:
    address = f"{path.resolve().as_uri()}?mode={mode}"
    return contextlib.closing(sqlite3.connect(address, uri=True, timeout=BUSY_SECONDS))


def _begin_immediate(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _begin_deferred(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN")


def _set_up(engine: Engine, *, with_log: bool) -> None:
    with _bare(engine) as cursor:
        _check_owner(cursor)
        _set_journal(cursor, "WAL" if with_log else "DELETE")
    with engine.begin() as connection:
        migrate(connection)


def _check_owner(cursor: Any) -> None:
    found = cursor.execute("PRAGMA application_id").fetchone()[0]
    empty = cursor.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if found == 0 and empty:
        cursor.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    elif found != APPLICATION_ID:
        raise _not_ours(Path(), "a database of another program")


def _set_journal(cursor: Any, mode: str) -> None:
    """Ask for a journal mode; while someone reads, the present one stays, which is as safe."""
    with contextlib.suppress(sqlite3.OperationalError):
        cursor.execute(f"PRAGMA journal_mode = {mode}")


def _fold_log(engine: Engine) -> None:
    """Put the log back into the file and leave a store of one plain file, if nobody reads."""
    with contextlib.suppress(sqlite3.OperationalError), _bare(engine) as cursor:
        cursor.execute("PRAGMA busy_timeout = 2000")
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        _set_journal(cursor, "DELETE")


@contextmanager
def _bare(engine: Engine) -> Iterator[Any]:
    """Lend a cursor outside any transaction, as pragmas need it."""
    connection = engine.raw_connection()
    try:
        cursor = connection.cursor()
        yield cursor
        cursor.close()
    finally:
        connection.close()


def _check_version(connection: Connection) -> None:
    found = connection.exec_driver_sql("PRAGMA application_id").scalar()
    if found != APPLICATION_ID:
        raise _not_ours(Path(), "a database of another program, or none")
    version = version_of(connection)
    if version > len(MIGRATIONS):
        raise store_newer(version, len(MIGRATIONS))
    if version < len(MIGRATIONS):
        raise FileRefused(
            "store-older",
            f"a store of version {version}",
            allowed=f"version {len(MIGRATIONS)}; reading never changes a store",
            todo="bring it up to date by any import",
        )


def _operational(path: Path, message: str) -> FileRefused:
    where = Where(file=str(path))
    if "locked" in message or "busy" in message:
        return FileRefused(
            "store-busy",
            "a store in which someone else is writing",
            allowed="one writer at a time",
            todo="wait until the other import is done, then try again",
            where=where,
        )
    return FileRefused(
        "store-unusable",
        f"a store that cannot be used ({message})",
        allowed="a store that may be read (and written, to import)",
        todo="check rights and room on the disk; after an import that was cut off, import any "
        "file once so that the store puts itself in order",
        where=where,
    )


def _not_ours(path: Path, found: str) -> FileRefused:
    return FileRefused(
        "store-not-ours",
        f"something else where the store should be ({found})",
        allowed="a store made by this program",
        todo="move the file away, or restore the store from a copy",
        where=Where(file=str(path) if path.name else None),
    )
