"""Bringing files in: each file whole or not at all, nothing twice, every refusal kept.

One file is one transaction. A file that contradicts itself or the survey leaves the store as it
was, except for the list of what was refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import islice
from pathlib import Path

import msgspec
from sqlalchemy import Connection, Engine

from tapertread.errors import RefusedInput
from tapertread.shapes.outline import Kind
from tapertread.shapes.reading.outlines import iter_outlines
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.reading.recipe import read_recipe
from tapertread.shapes.reading.recipe_fields import FileForm, Recipe
from tapertread.shapes.reading.tables_in import open_table
from tapertread.survey.checks import check_book, check_duplicates
from tapertread.survey.columns import TableKind
from tapertread.survey.config import read_config
from tapertread.survey.filing import (
    Reading,
    begin_import,
    checksum,
    earlier_import,
    finish_import,
    keep_refusals,
)
from tapertread.survey.outline_checks import Names, names_in, outline_fault
from tapertread.survey.outline_filing import BATCH_OUTLINES, OutlineFiling
from tapertread.survey.record_filing import Filed, file_records, load_book, merged
from tapertread.survey.report import FileImport, ImportReport
from tapertread.survey.store import writing
from tapertread.survey.tables import MOST_FAULTS, TableRead, kind_of_columns, read_table

Progress = Callable[[int, int, str], None]
"""Called with files done, files in all, and the file that comes next."""

OUTLINE_FOLDERS: dict[str, Kind] = {"wheels": "wheel", "rails": "rail"}
RECIPE_NAME = "recipe.toml"
OUTLINES = "outlines"


def import_files(
    survey: Path | str,
    files: Sequence[Path | str],
    *,
    recipe: Recipe | Path | str | None = None,
    progress: Progress | None = None,
) -> ImportReport:
    """Bring files into a survey.

    Parameters
    ----------
    survey : Path or str
        The survey's folder, with its ``survey.toml``; the store is made where there is none.
    files : sequence of Path or str
        Tables of records (known by their columns) or outlines, in any order.
    recipe : Recipe, Path, str or None
        How to read outlines; with a recipe every file holds outlines. A ``recipe.toml`` beside
        files in the folders ``wheels`` and ``rails`` applies to them.
    progress : callable or None
        Told before each file.

    Returns
    -------
    ImportReport
        What each file added, and why files were refused; the others are kept.

    Raises
    ------
    FileRefused, SurveyRefused
        The folder is no survey, or its store cannot be used.
    RecipeRefused
        The recipe cannot be used.
    """
    folder = Path(survey)
    read_config(folder)
    known = read_recipe(recipe) if isinstance(recipe, Path | str) else recipe
    done: list[FileImport] = []
    with writing(folder) as engine:
        for at, path in enumerate(map(Path, files)):
            if progress is not None:
                progress(at, len(files), str(path))
            done.append(import_one(engine, path, recipe=known))
    return ImportReport(files=tuple(done))


def import_one(
    engine: Engine, path: Path, *, name: str = "", recipe: Recipe | None = None
) -> FileImport:
    """Bring one file in, or keep why it was refused; `name` is what the store calls it."""
    name = name or str(path)
    sha256 = kind = ""
    try:
        sha256 = checksum(path)
        table = None if recipe is not None else table_kind(path)
        kind = OUTLINES if table is None else table.name
        if table is not None:
            reading = Reading(path=path, name=name, sha256=sha256, kind=kind)
            return _import_table(engine, reading, table)
        recipe = recipe or _recipe_beside(path)
        text = "" if recipe is None else msgspec.json.encode(recipe).decode()
        reading = Reading(path=path, name=name, sha256=sha256, kind=kind, recipe=text)
        return _import_outlines(engine, reading, recipe)
    except FileFaults as fault:
        refusals = fault.refusals
    except RefusedInput as fault:
        refusals = (fault.at(file=str(path)),)
    with engine.begin() as connection:
        keep_refusals(connection, refusals, name=name, sha256=sha256)
    return FileImport(file=str(path), kind=kind, refusals=tuple(refusals))


def table_kind(path: Path) -> TableKind | None:
    """Return which table a file is, ``None`` where it holds outlines.

    Raises
    ------
    FileRefused
        The file cannot be read as any table.
    """
    if path.parent.name in OUTLINE_FOLDERS:
        return None
    table = open_table(path, FileForm())
    return kind_of_columns(table.first_row, stem=path.stem)


class FileFaults(Exception):  # noqa: N818
    """All refusals of one file; raised within its transaction, so that nothing of it stays."""

    def __init__(self, refusals: Sequence[RefusedInput]) -> None:
        self.refusals = tuple(refusals)
        super().__init__(f"{len(self.refusals)} refusals")


def _import_table(engine: Engine, reading: Reading, kind: TableKind) -> FileImport:
    with engine.begin() as connection:
        before = earlier_import(connection, reading)
        if before is not None:
            return before
        read = read_table(reading.path, kind=kind.name)
        _refuse_table(connection, read)
        number = begin_import(connection, reading)
        filed = file_records(connection, kind, read.rows, number=number)
        return _finished(connection, number, reading, filed=filed)


def _refuse_table(connection: Connection, read: TableRead) -> None:
    """Refuse a table that has faults of its own or contradicts the rest of the survey."""
    if read.faults:
        raise FileFaults(read.faults)
    if not read.rows:
        return
    duplicates = check_duplicates(read.kind.name, read.rows)
    if duplicates:
        raise FileFaults(duplicates[:MOST_FAULTS])
    faults = check_book(merged(load_book(connection), read.kind, read.rows))
    if faults:
        raise FileFaults(faults[:MOST_FAULTS])


def _import_outlines(engine: Engine, reading: Reading, recipe: Recipe | None) -> FileImport:
    path = reading.path
    outlines = iter_outlines(path, recipe, kind=OUTLINE_FOLDERS.get(path.parent.name))
    with engine.begin() as connection:
        before = earlier_import(connection, reading)
        if before is not None:
            return before
        number = begin_import(connection, reading)
        stated = recipe is not None and recipe.frame is not None
        filing = OutlineFiling(
            connection, number=number, sha256=reading.sha256, frame_stated=stated
        )
        names = names_in(load_book(connection))
        faults: list[RefusedInput] = []
        while len(faults) < MOST_FAULTS and (batch := list(islice(outlines, BATCH_OUTLINES))):
            faults.extend(_file_batch(filing, batch, names=names))
        if faults:
            raise FileFaults(faults[:MOST_FAULTS])
        return _finished(connection, number, reading, filed=filing.done())


def _file_batch(
    filing: OutlineFiling, batch: Sequence[RawOutline | RefusedInput], *, names: Names
) -> list[RefusedInput]:
    """File a batch of outlines, unless something in it is at fault; return the faults."""
    faults: list[RefusedInput] = []
    good = []
    for one in batch:
        fault = one if isinstance(one, RefusedInput) else outline_fault(one, names=names)
        if fault is not None:
            faults.append(fault)
        elif isinstance(one, RawOutline):
            good.append(one)
    if not faults:
        faults.extend(filing.add(good))
    return faults


def _finished(connection: Connection, number: int, reading: Reading, *, filed: Filed) -> FileImport:
    done = FileImport(
        file=str(reading.path),
        kind=reading.kind,
        added=filed.added,
        already_there=filed.already_there,
        superseded=filed.superseded,
    )
    finish_import(connection, number, done)
    return done


def _recipe_beside(path: Path) -> Recipe | None:
    """Return the recipe of a folder of outlines, where it has one."""
    beside = path.parent / RECIPE_NAME
    if path.parent.name in OUTLINE_FOLDERS and beside.is_file():
        return read_recipe(beside)
    return None
