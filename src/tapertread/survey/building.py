"""A survey built from a folder of raw tables and outlines."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from tapertread.errors import FileRefused, RefusedInput, SurveyRefused, Where
from tapertread.survey.columns import table_kinds
from tapertread.survey.config import CONFIG_NAME, SurveyConfig, read_config
from tapertread.survey.filing import checksum, keep_refusals
from tapertread.survey.importing import (
    OUTLINE_FOLDERS,
    RECIPE_NAME,
    Progress,
    import_one,
    table_kind,
)
from tapertread.survey.report import FileImport, ImportReport
from tapertread.survey.store import has_store, writing
from tapertread.survey.view import Survey, open_survey

TABLE_ENDINGS = (".csv", ".tsv", ".xlsx", ".xlsm", ".parquet")
OUTLINE_ENDINGS = (*TABLE_ENDINGS, ".txt", ".dat", ".asc")


def build_survey(
    raw_folder: Path | str, store_folder: Path | str, *, progress: Progress | None = None
) -> ImportReport:
    """Bring every table and outline of a raw folder into the store of a survey folder.

    Parameters
    ----------
    raw_folder : Path or str
        Folder with ``survey.toml``, tables, and outlines in ``wheels`` and ``rails``. It is only
        read, unless it is the store's folder too.
    store_folder : Path or str
        Where the store is made or added to; it gets a copy of ``survey.toml``.
    progress : callable or None
        Told before each file.

    Returns
    -------
    ImportReport
        What each file added. What was there before is not brought in twice.

    Raises
    ------
    FileRefused, SurveyRefused
        The raw folder is no survey, the other folder holds another one, or its store cannot be
        used.
    """
    raw, folder = Path(raw_folder), Path(store_folder)
    config = read_config(raw)
    folder.mkdir(parents=True, exist_ok=True)
    _place_config(raw, folder, config)
    files, notes = _files_in_order(raw)
    done: list[FileImport] = []
    with writing(folder) as engine:
        for at, (path, fault) in enumerate(files):
            if progress is not None:
                progress(at, len(files), str(path))
            if fault is None:
                done.append(import_one(engine, path, name=_name(path, raw)))
                continue
            name, sha256 = _name(path, raw), _checksum_or_none(path)
            with engine.begin() as connection:
                keep_refusals(connection, [fault], name=name, sha256=sha256)
            done.append(FileImport(file=str(path), refusals=(fault,)))
    return ImportReport(files=tuple(done), notes=notes)


def open_or_build(
    path: Path | str, out: Path | str | None = None, *, progress: Progress | None = None
) -> Survey:
    """Open a survey, building it first where the folder holds raw tables only.

    Parameters
    ----------
    path : Path or str
        A folder with a store, or a raw one.
    out : Path, str or None
        Where a raw folder's store is made.
    progress : callable or None
        Told before each file.

    Raises
    ------
    FileRefused, SurveyRefused
        As `open_survey` and `build_survey`; ``nowhere-to-build`` for a raw folder without `out`.
    RefusedInput
        The first refusal, where a table of a raw folder was refused. A refused file of outlines
        leaves the rest usable; the store keeps why (`Survey.refusals`).
    """
    folder = Path(path)
    if has_store(folder):
        return open_survey(folder)
    read_config(folder)
    if out is None:
        raise SurveyRefused(
            "nowhere-to-build",
            "a raw folder, whose measurements are in no store yet",
            allowed="a folder with a store, or another folder to make one in",
            todo="say where to build the survey (--out DIR)",
            where=Where(file=str(folder)),
        )
    report = build_survey(folder, out, progress=progress)
    broken = [
        fault
        for one in report.files
        if Path(one.file).parent.name not in OUTLINE_FOLDERS
        for fault in one.refusals
    ]
    if broken:
        raise _first_of(broken)
    return open_survey(out)


def _name(path: Path, raw: Path) -> str:
    """Return a file's path from the raw folder, so that stores do not depend on where it lay."""
    return path.relative_to(raw).as_posix()


def _checksum_or_none(path: Path) -> str:
    try:
        return checksum(path)
    except FileRefused:
        return ""


def _first_of(refusals: Sequence[RefusedInput]) -> RefusedInput:
    first = refusals[0]
    if len(refusals) == 1:
        return first
    return type(first)(
        first.code,
        f"{first.found} (the first of {len(refusals)} refusals)",
        allowed=first.allowed,
        todo=first.todo,
        where=first.where,
    )


def _place_config(raw: Path, folder: Path, config: SurveyConfig) -> None:
    """Copy ``survey.toml``, unless the folder holds a survey of another name."""
    target = folder / CONFIG_NAME
    if raw.resolve() == folder.resolve():
        return
    if target.exists() and read_config(folder).name != config.name:
        raise SurveyRefused(
            "another-survey",
            f"the survey {read_config(folder).name!r} where {config.name!r} should be built",
            allowed="an empty folder, or the folder of the same survey",
            todo="choose another folder",
            where=Where(file=str(target)),
        )
    beside = folder / f"{CONFIG_NAME}.tmp"
    beside.write_bytes((raw / CONFIG_NAME).read_bytes())
    os.replace(beside, target)


def _files_in_order(
    raw: Path,
) -> tuple[list[tuple[Path, RefusedInput | None]], tuple[str, ...]]:
    """Return the files in the order in which they lean on one another, and what is left alone."""
    tables, faults = _tables(raw)
    ordered = [path for name in table_kinds() for path in sorted(tables.get(name, ()))]
    files: list[tuple[Path, RefusedInput | None]] = [*faults]
    for path in ordered:
        twin = [other for other in ordered if other.stem == path.stem and other < path]
        files.append((path, _two_files(path, twin[0]) if twin else None))
    notes: list[str] = []
    for folder in OUTLINE_FOLDERS:
        for path in sorted((raw / folder).glob("*")):
            if path.suffix.lower() in OUTLINE_ENDINGS:
                files.append((path, None))
            elif path.name != RECIPE_NAME:
                notes.append(f"{path} left alone: no table by its ending")
    return files, tuple(notes)


def _tables(
    raw: Path,
) -> tuple[dict[str, list[Path]], list[tuple[Path, RefusedInput | None]]]:
    found: dict[str, list[Path]] = defaultdict(list)
    faults: list[tuple[Path, RefusedInput | None]] = []
    for path in sorted(raw.iterdir()):
        if path.suffix.lower() not in TABLE_ENDINGS or not path.is_file():
            continue
        try:
            kind = table_kind(path)
        except RefusedInput as fault:
            faults.append((path, fault.at(file=str(path))))
            continue
        if kind is None:
            faults.append((path, _unknown_table(path)))
        else:
            found[kind.name].append(path)
    return found, faults


def _unknown_table(path: Path) -> FileRefused:
    return FileRefused(
        "unknown-table",
        "a file whose name and columns are those of no table",
        allowed=f"tables of {', '.join(table_kinds())}; outlines in wheels/ and rails/",
        todo="name the file after its table, or move it (see docs/survey.md)",
        where=Where(file=str(path)),
    )


def _two_files(path: Path, other: Path) -> SurveyRefused:
    return SurveyRefused(
        "table-twice",
        f"a second file of the same table; the first is {other.name}",
        allowed="one file of each table in a raw folder",
        todo="remove the one that does not hold",
        where=Where(file=str(path)),
    )
