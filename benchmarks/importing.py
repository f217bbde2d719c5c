"""How fast outlines are brought into a survey and read back, and in how much memory.

    python benchmarks/importing.py --outlines 100000 --points 120

Builds an invented survey of many wheelsets in a temporary folder (not timed), imports one long
table of outlines, imports it again (nothing may come in twice), and loads all outlines, each step
in a process of its own whose peak memory is printed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl

from tapertread.survey import build_survey, import_files, open_survey

WRITTEN_AT_ONCE = 2_000


def write_raw(folder: Path, *, wheelsets: int) -> None:
    """Write the tables of an invented survey of so many wheelsets, two to a vehicle."""
    folder.mkdir(parents=True)
    (folder / "survey.toml").write_text(
        'survey = 1\nname = "invented"\ninvented = true\nlimits = ["eu-in-service"]\n'
    )
    (folder / "campaigns.csv").write_text("campaign,date\ninvented,2031-04-02\n")
    names = [f"{n:06}" for n in range(wheelsets)]
    vehicles = [f"V{n // 2:06}" for n in range(wheelsets)]
    pl.DataFrame(
        {
            "vehicle": sorted(set(vehicles)),
            "fleet": "invented",
            "kind": "coach",
            "wheel_design": "S1002",
        }
    ).write_csv(folder / "vehicles.csv")
    pl.DataFrame(
        {
            "wheelset": names,
            "vehicle": vehicles,
            "axle": [n % 2 + 1 for n in range(wheelsets)],
            "campaign": "invented",
            "left_diameter_mm": 920.0,
            "right_diameter_mm": 920.0,
            "back_to_back_mm": 1360.0,
        }
    ).write_csv(folder / "wheelsets.csv")


def write_outlines(path: Path, *, outlines: int, points: int) -> None:
    """Write an invented long table of wheel outlines, a block of outlines at a time."""
    y = np.linspace(-60.0, 50.0, points)
    z = -28.0 * np.exp(-(((y + 55.0) / 12.0) ** 2)) - y / 40.0
    random = np.random.default_rng(20)
    with path.open("wb") as stream:
        for first in range(0, outlines, WRITTEN_AT_ONCE):
            count = min(WRITTEN_AT_ONCE, outlines - first)
            number = np.repeat(np.arange(first, first + count), points)
            noise = 0.01 * random.standard_normal(count * points)
            frame = pl.DataFrame(
                {
                    "wheelset": pl.Series(number // 2).cast(pl.String).str.pad_start(6, "0"),
                    "side": np.where(number % 2 == 0, "left", "right"),
                    "campaign": ["invented"] * (count * points),
                    "y_mm": np.tile(y, count).round(4),
                    "z_mm": (np.tile(z, count) + noise).round(4),
                }
            )
            frame.write_csv(stream, include_header=first == 0)


def bring_in(folder: Path, path: Path) -> int:
    """Import the table; return outlines added."""
    report = import_files(folder, [path])
    if report.refused:
        raise SystemExit(report.refused[0]["why"])
    return report.added


def load_all(folder: Path, _: Path) -> int:
    """Load every outline at once; return how many."""
    return len(open_survey(folder).wheel_outlines("invented"))


def stream_all(folder: Path, _: Path) -> int:
    """Go through every outline one after another; return how many."""
    return sum(1 for _ in open_survey(folder).iter_outlines("wheel", "invented"))


def peak_memory_mb() -> float:
    """Return the largest memory this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def measured(
    step: Callable[[Path, Path], int], folder: Path, path: Path
) -> tuple[int, float, float, float]:
    """Do one step; return its count, seconds, and memory before and at the peak (MB)."""
    before = peak_memory_mb()
    begin = time.perf_counter()
    count = step(folder, path)
    return count, time.perf_counter() - begin, before, peak_memory_mb()


def main() -> None:
    """Write, import twice, load, and print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--outlines", type=int, default=100_000)
    parser.add_argument("--points", type=int, default=120)
    asked = parser.parse_args()
    steps = (("import", bring_in), ("again", bring_in), ("load", load_all), ("stream", stream_all))
    with tempfile.TemporaryDirectory() as name:
        folder, path = Path(name) / "survey", Path(name) / "outlines.csv"
        write_raw(Path(name) / "raw", wheelsets=(asked.outlines + 1) // 2)
        begin = time.perf_counter()
        tables = build_survey(Path(name) / "raw", folder)
        print(f"tables   {tables.added:9,} records in {time.perf_counter() - begin:6.2f} s")
        write_outlines(path, outlines=asked.outlines, points=asked.points)
        print(
            f"outlines {asked.outlines:9,} of {asked.points} points, "
            f"{path.stat().st_size / 1e6:,.0f} MB of CSV"
        )
        for label, step in steps:
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                count, seconds, before, peak = pool.apply(measured, (step, folder, path))
            rate = asked.outlines / seconds
            print(
                f"{label:8} {count:9,} in {seconds:6.2f} s  {rate:9,.0f}/s  "
                f"peak {peak:6,.0f} MB ({before:,.0f} MB before)"
            )
        print(f"store    {(folder / 'survey.sqlite').stat().st_size / 1e6:9,.0f} MB")


if __name__ == "__main__":
    main()
