"""An import killed in the middle leaves the store as it was, and a second try brings all of it in.

The import runs in a process of its own and gets SIGKILL at moments spread over its run, so that no
clean-up of ours can help it; the moments are drawn with a fixed seed, the run is the machine's.
"""

from __future__ import annotations

import multiprocessing
import runpy
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from tapertread.survey import Survey, build_survey, import_files, open_survey

FIXTURE = runpy.run_path(str(Path(__file__).parents[1] / "survey" / "conftest.py"))

OUTLINES = 2000
POINTS = 60
KILLS = 7


@pytest.fixture(scope="module")
def servant() -> multiprocessing.context.ForkServerContext:
    """Keep a process that has loaded the survey room already, to start importers from."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tapertread.survey"])
    return context


@pytest.fixture(scope="module")
def big_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write outlines of one wheelset at many moments, enough for the import to take a while."""
    path = tmp_path_factory.mktemp("big") / "train.csv"
    y = np.linspace(-30.0, 30.0, POINTS)
    lines = ["wheelset,side,campaign,time,y_mm,z_mm"]
    for n in range(OUTLINES):
        label = f"W1,left,spring,2031-04-02 {n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}"
        lines += [f"{label},{a:.3f},{0.02 * a + 0.001 * n:.4f}" for a in y]
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build a sound survey."""
    folder = tmp_path_factory.mktemp("sound")
    build_survey(FIXTURE["write_raw"](folder / "raw"), folder / "survey")
    return folder / "survey"


def copy_of(folder: Path, copy: Path) -> Path:
    copy.mkdir()
    for file in folder.iterdir():
        (copy / file.name).write_bytes(file.read_bytes())
    return copy


def state(survey: Survey) -> tuple[object, ...]:
    outlines = sum(one.what == "outline" for one in survey.history("W1"))
    return survey.as_of, outlines, survey.files(), survey.history("W2"), survey.wheelsets()


def check_at_rest(folder: Path) -> None:
    assert sorted(path.name for path in folder.iterdir()) == ["survey.sqlite", "survey.toml"]
    connection = sqlite3.connect(folder / "survey.sqlite")
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


def wait_for_bytes(log: Path, process: multiprocessing.context.ForkServerProcess) -> None:
    """Wait until a writer has put something on the disk, so that a kill then comes midway."""
    while process.is_alive() and not (log.exists() and log.stat().st_size > 0):
        time.sleep(0.0005)


def test_an_import_killed_at_any_moment_leaves_all_or_nothing(
    sound: Path, big_file: Path, servant: multiprocessing.context.ForkServerContext, tmp_path: Path
) -> None:
    """Kills all over the run; those in time leave the store as before, those too late all of it."""
    before = state(open_survey(sound))
    whole = copy_of(sound, tmp_path / "whole")
    begin = time.perf_counter()
    assert import_files(whole, [big_file]).added == OUTLINES
    seconds = time.perf_counter() - begin
    after = state(open_survey(whole))
    in_time, midway = [], 0
    for at, moment in enumerate(np.random.default_rng(7).uniform(0.0, 0.9, size=KILLS)):
        victim = copy_of(sound, tmp_path / f"victim{at}")
        process = servant.Process(target=import_files, args=(str(victim), [str(big_file)]))
        process.start()
        log = victim / "survey.sqlite-wal"
        while not log.exists() and process.is_alive():
            time.sleep(0.001)
        if at % 2:
            time.sleep(float(moment) * seconds)
        else:
            wait_for_bytes(log, process)
        process.kill()
        process.join()
        midway += log.exists() and log.stat().st_size > 0
        found = state(open_survey(victim))
        assert found in (before, after)
        if process.exitcode == -signal.SIGKILL and found == before:
            in_time.append(victim)
    assert len(in_time) >= 5
    assert midway >= 2  # these had written to the disk already when they were killed
    for victim in in_time[-2:]:
        report = import_files(victim, [big_file])
        assert (report.added, report.refused) == (OUTLINES, [])
        assert state(open_survey(victim)) == after
        check_at_rest(victim)


HALF_DONE = """
import os, sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA cache_size = 5")
connection.execute("BEGIN IMMEDIATE")
for n in range(300):
    connection.execute("INSERT INTO meta VALUES (?, ?)", (f"half done {n}", "x" * 2000))
os._exit(0)
"""
"""A writer without a log whose cache is too small, so that pages reach the file before any commit,
and that ends without closing anything."""


@pytest.mark.parametrize("by", ["reader", "importer"])
def test_what_a_killed_writer_left_half_done_is_undone_by_whoever_comes_next(
    sound: Path, tmp_path: Path, by: str
) -> None:
    folder = copy_of(sound, tmp_path / "victim")
    before = state(open_survey(folder))
    path = folder / "survey.sqlite"
    subprocess.run([sys.executable, "-c", HALF_DONE, str(path)], check=True)
    assert (folder / "survey.sqlite-journal").exists()
    assert b"half done" in path.read_bytes()
    found = open_survey(folder) if by == "reader" else None
    report = import_files(folder, []) if by == "importer" else None
    assert (found is None) != (report is None)
    assert state(open_survey(folder)) == before
    check_at_rest(folder)
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM meta").fetchone() == (1,)
    connection.close()
