"""The store: journal by file system, migrations whole, one writer, strangers refused."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import Connection, text

from tapertread.errors import FileRefused
from tapertread.survey import schema, store
from tapertread.survey.filesystem import filesystem_type, is_local
from tapertread.survey.store import STORE_NAME, reading, writing

MOUNTS = """\
27 1 254:0 / / rw,relatime - ext4 /dev/vda rw
30 27 0:30 / /srv/share rw - nfs4 host:/export rw
31 30 0:31 / /srv/share/fast\\040disk rw shared:4 - xfs /dev/vdb rw
32 27 0:32 / /srv/share rw - cifs //host/x rw
"""


@pytest.fixture
def mounts(tmp_path: Path) -> Path:
    path = tmp_path / "mountinfo"
    path.write_text(MOUNTS)
    return path


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/home/survey", "ext4"),
        ("/srv/share/survey", "cifs"),
        ("/srv/share/fast disk/survey", "xfs"),
        ("/srv/shared", "ext4"),
    ],
)
def test_the_nearest_and_last_mount_decides(mounts: Path, folder: str, kind: str) -> None:
    """Format of mountinfo: proc_pid_mountinfo(5), from memory."""
    assert filesystem_type(Path(folder), mounts=mounts) == kind
    assert is_local(Path(folder), mounts=mounts) == (kind != "cifs")


def test_where_nothing_tells_a_folder_counts_as_shared(tmp_path: Path) -> None:
    assert not is_local(tmp_path, mounts=tmp_path / "absent")


def journal_of(folder: Path) -> str:
    with writing(folder) as engine, engine.begin() as connection:
        return str(connection.scalar(text("PRAGMA journal_mode")))


@pytest.mark.parametrize(("local", "mode"), [(True, "wal"), (False, "delete")])
def test_a_log_on_local_disks_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, local: bool, mode: str
) -> None:
    monkeypatch.setattr(store, "is_local", lambda _: local)
    assert journal_of(tmp_path) == mode


def test_every_commit_reaches_the_disk(tmp_path: Path) -> None:
    """2 is FULL, pragma synchronous in the documentation of SQLite."""
    with writing(tmp_path) as engine, engine.begin() as connection:
        assert connection.scalar(text("PRAGMA synchronous")) == 2


def test_at_rest_a_store_is_one_plain_file(tmp_path: Path) -> None:
    with writing(tmp_path) as engine, engine.begin() as connection:
        connection.execute(text("INSERT INTO meta VALUES ('a', 'b')"))
    assert [path.name for path in tmp_path.iterdir()] == [STORE_NAME]
    header = (tmp_path / STORE_NAME).read_bytes()[:100]
    assert header[18:20] == b"\x01\x01"  # journal formats of the file header: 1 is no log
    with reading(tmp_path) as connection:
        assert connection.scalar(text("SELECT value FROM meta WHERE key = 'a'")) == "b"


def insert(folder: Path, value: str) -> None:
    with writing(folder, busy_seconds=0.2) as engine, engine.begin() as connection:
        connection.execute(text("INSERT OR REPLACE INTO meta VALUES ('k', :v)"), {"v": value})


def test_a_reader_that_does_not_let_go_loses_nobody_anything(tmp_path: Path) -> None:
    """Where a reader keeps the log from being begun, the writer is told to wait, and may again."""
    insert(tmp_path, "before")
    query = text("SELECT value FROM meta WHERE key = 'k'")
    with reading(tmp_path) as reader:
        assert reader.scalar(query) == "before"
        with pytest.raises(FileRefused, match="store-busy"):
            insert(tmp_path, "after")
        assert reader.scalar(query) == "before"
    insert(tmp_path, "after")
    with reading(tmp_path) as reader:
        assert reader.scalar(query) == "after"
    assert [path.name for path in tmp_path.iterdir()] == [STORE_NAME]


def test_a_reader_beside_the_log_sees_its_state_to_the_end(tmp_path: Path) -> None:
    insert(tmp_path, "before")
    query = text("SELECT value FROM meta WHERE key = 'k'")
    with writing(tmp_path) as engine:
        with reading(tmp_path) as reader:
            assert reader.scalar(query) == "before"
            with engine.begin() as connection:
                connection.execute(text("UPDATE meta SET value = 'after' WHERE key = 'k'"))
            assert reader.scalar(query) == "before"
        with reading(tmp_path) as reader:
            assert reader.scalar(query) == "after"


def test_readers_cannot_write(tmp_path: Path) -> None:
    with writing(tmp_path):
        pass
    with pytest.raises(FileRefused), reading(tmp_path) as connection:
        connection.execute(text("INSERT INTO meta VALUES ('k', 'v')"))


def test_a_second_writer_is_told_to_wait(tmp_path: Path) -> None:
    with (
        writing(tmp_path) as engine,
        engine.begin(),
        pytest.raises(FileRefused) as caught,
        writing(tmp_path, busy_seconds=0.1),
    ):
        pass
    assert caught.value.code == "store-busy"
    assert caught.value.where.file == str(tmp_path / STORE_NAME)


def set_version(folder: Path, version: int) -> None:
    connection = sqlite3.connect(folder / STORE_NAME)
    connection.execute("UPDATE meta SET value = ? WHERE key = 'version'", (str(version),))
    connection.commit()
    connection.close()


def add_column(connection: Connection) -> None:
    connection.execute(text("ALTER TABLE meta ADD COLUMN more TEXT"))


def fail(connection: Connection) -> None:
    add_column(connection)
    raise RuntimeError("the power went out")


def columns(folder: Path) -> list[str]:
    connection = sqlite3.connect(folder / STORE_NAME)
    found = [row[1] for row in connection.execute("PRAGMA table_info(meta)")]
    connection.close()
    return found


def test_a_migration_and_its_record_are_one_transaction(tmp_path: Path) -> None:
    with writing(tmp_path) as engine:
        with pytest.raises(RuntimeError), engine.begin() as connection:
            schema.migrate(connection, [*schema.MIGRATIONS, fail])
        assert columns(tmp_path) == ["key", "value"]
        with engine.begin() as connection:
            assert schema.version_of(connection) == 1
            assert schema.migrate(connection, [*schema.MIGRATIONS, add_column]) == 1
            assert schema.version_of(connection) == 2
    assert columns(tmp_path) == ["key", "value", "more"]


def test_an_up_to_date_store_is_left_alone(tmp_path: Path) -> None:
    with writing(tmp_path) as engine, engine.begin() as connection:
        assert schema.migrate(connection) == 0


def test_stores_of_other_versions_are_refused(tmp_path: Path) -> None:
    with writing(tmp_path):
        pass
    set_version(tmp_path, 99)
    for opened in (reading, writing):
        with pytest.raises(FileRefused, match="store-newer"), opened(tmp_path):
            pass
    set_version(tmp_path, 0)
    with pytest.raises(FileRefused, match="store-older"), reading(tmp_path):
        pass


def test_strangers_are_refused_and_left_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / STORE_NAME
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE dear (diary)")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    for opened in (reading, writing):
        with pytest.raises(FileRefused, match="store-not-ours"), opened(tmp_path):
            pass
    assert path.read_bytes() == before


def test_bytes_that_are_no_database_are_refused(tmp_path: Path) -> None:
    (tmp_path / STORE_NAME).write_bytes(b"no database at all " * 1000)
    for opened in (reading, writing):
        with pytest.raises(FileRefused, match="store-not-ours"), opened(tmp_path):
            pass


def test_a_folder_without_a_store_is_not_given_one_by_reading(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="no-store"), reading(tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []
