"""Tables of the store, and how an older store is brought up to date.

Nothing is ever deleted or overwritten. A row that no longer holds names the import that took its
place (``superseded_by``); imports are numbered upwards, so that any earlier state can be read.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sqlalchemy import (
    Column,
    ColumnElement,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    and_,
    func,
    insert,
    inspect,
    or_,
    select,
    update,
)

from tapertread.errors import FileRefused

metadata = MetaData()

meta = Table(
    "meta",
    metadata,
    Column("key", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

raw = Table(
    "raw",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("size_bytes", Integer, nullable=False),
)
"""Each file ever brought in, once, by the checksum of its bytes."""

raw_chunk = Table(
    "raw_chunk",
    metadata,
    Column("sha256", Text, ForeignKey("raw.sha256"), primary_key=True),
    Column("ordinal", Integer, primary_key=True),
    Column("deflated", LargeBinary, nullable=False),
)
"""Its bytes in order, each chunk compressed by itself, so that memory stays bounded."""

imports = Table(
    "import",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("file", Text, nullable=False),
    Column("sha256", Text, ForeignKey("raw.sha256"), nullable=False),
    Column("kind", Text, nullable=False),
    Column("recipe", Text, nullable=False),
    Column("recipe_sha256", Text, nullable=False),
    Column("added", Integer, nullable=False, default=0),
    Column("already_there", Integer, nullable=False, default=0),
    Column("superseded", Integer, nullable=False, default=0),
    UniqueConstraint("sha256", "kind", "recipe_sha256"),
)
"""Each reading of a file, by a recipe (as JSON) where one was needed."""

record = Table(
    "record",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("part", Text, nullable=False),
    Column("payload", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("line", Integer, nullable=False),
    Column("import_id", Integer, ForeignKey("import.id"), nullable=False),
    Column("superseded_by", Integer, ForeignKey("import.id")),
    UniqueConstraint("kind", "key", "revision"),
)
"""Rows of tables: vehicles, wheelsets, sections and so on, as JSON."""

Index(
    "record_current",
    record.c.kind,
    record.c.key,
    unique=True,
    sqlite_where=record.c.superseded_by.is_(None),
    postgresql_where=record.c.superseded_by.is_(None),
)

outline = Table(
    "outline",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("asset", Text, nullable=False),
    Column("side", Text, nullable=False),
    Column("campaign", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("points", Integer, nullable=False),
    Column("frame", Text, nullable=False),
    Column("tape_line_mm", Float, nullable=False),
    Column("stylus_radius_mm", Float, nullable=False),
    Column("repeatability_mm", Float),
    Column("device", Text, nullable=False),
    Column("recipe_name", Text, nullable=False),
    Column("first_line", Integer, nullable=False),
    Column("last_line", Integer, nullable=False),
    Column("source_id", Integer, ForeignKey("import.id"), nullable=False),
    Column("import_id", Integer, ForeignKey("import.id"), nullable=False),
    Column("superseded_by", Integer, ForeignKey("import.id")),
)
"""What is known of each outline; ``place`` joins kind, asset, side and time (or campaign).

``source_id`` is the import that read it, ``import_id`` the one since which it holds: they differ
where a wrong reading had displaced it and was corrected.
"""

Index("outline_place", outline.c.place, outline.c.revision, unique=True)
Index(
    "outline_current",
    outline.c.place,
    unique=True,
    sqlite_where=outline.c.superseded_by.is_(None),
    postgresql_where=outline.c.superseded_by.is_(None),
)
Index("outline_asset", outline.c.kind, outline.c.campaign, outline.c.asset)
Index("outline_source", outline.c.source_id)
Index("outline_superseded", outline.c.superseded_by)

outline_points = Table(
    "outline_points",
    metadata,
    Column("outline_id", Integer, ForeignKey("outline.id"), primary_key=True),
    Column("yz", LargeBinary, nullable=False),
)
"""All y, then all z of an outline, mm, float64, little end first."""

refused = Table(
    "refused",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("file", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("code", Text, nullable=False),
    Column("line", Integer),
    Column("column", Text),
    Column("record", Text),
    Column("found", Text, nullable=False),
    Column("allowed", Text, nullable=False),
    Column("todo", Text, nullable=False),
    Column("why", Text, nullable=False),
    UniqueConstraint("sha256", "why"),
)
"""What was refused and why; kept after the file was corrected, because it happened."""

Migration = Callable[[Connection], None]


def _first(connection: Connection) -> None:
    metadata.create_all(connection)


MIGRATIONS: tuple[Migration, ...] = (_first,)
"""Steps from each version to the next; the number of steps is the version of this program."""


def version_of(connection: Connection) -> int:
    """Return the version of a store; 0 where nothing is in it yet."""
    if not inspect(connection).has_table("meta"):
        return 0
    found = connection.scalar(select(meta.c.value).where(meta.c.key == "version"))
    return int(found or 0)


def migrate(connection: Connection, migrations: Sequence[Migration] = MIGRATIONS) -> int:
    """Bring a store up to date: every step and its record in the caller's transaction.

    Returns
    -------
    int
        Steps taken.

    Raises
    ------
    FileRefused
        ``store-newer`` where a later program wrote the store.
    """
    version = version_of(connection)
    if version > len(migrations):
        raise store_newer(version, len(migrations))
    for step in migrations[version:]:
        step(connection)
    if version == 0:
        connection.execute(insert(meta).values(key="version", value=str(len(migrations))))
    elif version < len(migrations):
        done = update(meta).where(meta.c.key == "version").values(value=str(len(migrations)))
        connection.execute(done)
    return len(migrations) - version


def holding(table: Table, as_of: int | None = None) -> ColumnElement[bool]:
    """Return the condition for rows that hold: now, or right after the import of a number."""
    if as_of is None:
        return table.c.superseded_by.is_(None)
    still: ColumnElement[bool] = table.c.superseded_by > as_of
    never: ColumnElement[bool] = table.c.superseded_by.is_(None)
    begun: ColumnElement[bool] = table.c.import_id <= as_of
    return and_(begun, or_(never, still))


def last_import(connection: Connection) -> int:
    """Return the number of the last import, 0 before the first."""
    return int(connection.scalar(select(func.max(imports.c.id))) or 0)


def store_newer(found: int, known: int) -> FileRefused:
    """Return the refusal of a store that a later program wrote."""
    return FileRefused(
        "store-newer",
        f"a store of version {found}",
        allowed=f"versions up to {known}",
        todo="use the program that wrote it, or a later one",
    )
