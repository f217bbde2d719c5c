"""A copy of a survey while it is in use: one consistent state, whole or not at all."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from tapertread.errors import SurveyRefused, Where
from tapertread.survey.config import CONFIG_NAME, read_config
from tapertread.survey.store import STORE_NAME, reading, refusing, store_path


def back_up(survey: Path | str, target: Path | str) -> Path:
    """Copy a survey's store and configuration into another folder, also while others import.

    Parameters
    ----------
    survey : Path or str
        The survey's folder.
    target : Path or str
        Folder of the copy, made if need be. It must not hold a store yet.

    Returns
    -------
    Path
        The copied store.

    Raises
    ------
    FileRefused, SurveyRefused
        As `open_survey`; ``backup-exists`` where the target holds a store already.
    """
    folder, copy = Path(survey), Path(target)
    read_config(folder)
    final = store_path(copy)
    if final.exists():
        raise SurveyRefused(
            "backup-exists",
            "a store where the copy should go",
            allowed="a folder without a store",
            todo="name another folder",
            where=Where(file=str(final)),
        )
    copy.mkdir(parents=True, exist_ok=True)
    beside = copy / f"{STORE_NAME}.tmp"
    beside.unlink(missing_ok=True)
    with reading(folder) as connection, refusing(beside), closing(sqlite3.connect(beside)) as to:
        source = connection.connection.driver_connection
        if isinstance(source, sqlite3.Connection):
            source.backup(to)
        to.execute("PRAGMA journal_mode = DELETE")
    (copy / CONFIG_NAME).write_bytes((folder / CONFIG_NAME).read_bytes())
    os.replace(beside, final)
    return final
