"""How fast long tables of outlines are read, and in how much memory.

    python benchmarks/reading.py --outlines 100000 --points 120

Writes an invented table into a temporary folder (not timed), reads it outline by outline in a
process of its own, and prints the rate and the peak memory of that process. The memory that
Python and its libraries need before anything is read is printed beside it.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from tapertread.shapes.reading.outlines import iter_outlines
from tapertread.shapes.reading.raw_outline import RawOutline

WRITTEN_AT_ONCE = 2_000


def write_table(path: Path, *, outlines: int, points: int) -> None:
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


def peak_memory_mb() -> float:
    """Return the largest memory this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def read_table(path: Path, batch_rows: int) -> tuple[int, int, float, float, float]:
    """Read a table; return outlines, points, seconds, memory before and at the peak (MB)."""
    before = peak_memory_mb()
    begin = time.perf_counter()
    outlines = points = 0
    for result in iter_outlines(path, batch_rows=batch_rows):
        if not isinstance(result, RawOutline):
            raise result
        outlines += 1
        points += result.outline.y_mm.size
    return outlines, points, time.perf_counter() - begin, before, peak_memory_mb()


def main() -> None:
    """Write, read, and print what was measured."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--outlines", type=int, default=100_000)
    parser.add_argument("--points", type=int, default=120)
    parser.add_argument("--batch-rows", type=int, default=200_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "invented.csv"
        write_table(path, outlines=asked.outlines, points=asked.points)
        size_mb = path.stat().st_size / 1e6
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            measured = pool.apply(read_table, (path, asked.batch_rows))
    outlines, points, seconds, before, peak = measured
    print(f"table          {outlines:,} outlines, {points:,} rows, {size_mb:,.0f} MB of CSV")
    print(f"time           {seconds:.2f} s")
    print(f"rate           {outlines / seconds:,.0f} outlines/s, {points / seconds:,.0f} rows/s")
    print(f"peak memory    {peak:,.0f} MB ({before:,.0f} MB before reading)")


if __name__ == "__main__":
    main()
