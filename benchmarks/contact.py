"""How fast contact tables are computed, beside the same method in plain NumPy.

    python benchmarks/contact.py --seconds 2

A contact table is one worn, uneven wheelset on one worn, uneven track: 65 shifts on a common grid
of 0.2 mm, roll solved at each. The plain version works on whole arrays over shifts and nodes, on
the same grid, with the same rule for the roll; it is also the oracle of the tests. Sections are
made ready before the clock starts, for both. The compiled side does more: it proves that no other
place is closer and finds the second contacts. Rates are the best of rounds in turn, so that what
else runs on the machine disturbs least.

The share of the limit counts nominal operations (shifts x 2 sides x roll steps x nodes x 6), as if
every node were looked at in every roll step, so that what the search leaves out counts as gain.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import statistics
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import product

import numpy as np

from tapertread.contact import TrackShape, WheelsetShape, plain
from tapertread.contact.records import GRID_MM, Floats
from tapertread.contact.rolling import table_of
from tapertread.contact.sides import Side, prepare
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline

SHIFTS = 65
REACHES_MM = {"within the flange clearance": 4.0, "up the flange": 8.0}
GFLOPS_PER_CORE = 49.0
ROUNDS = 5
SAME_ROLL_RAD = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """One wheelset on one track, its sides ready."""

    wheelset: WheelsetShape
    track: TrackShape
    sides: tuple[Side, Side]


def worn(outline: Outline, *, seed: int, wear_mm: float, centre_mm: float) -> Outline:
    """Return an outline with a broad groove and smooth uneven wear of its own."""
    random = np.random.default_rng(seed)
    y = outline.y_mm
    sign = 1.0 if outline.kind == "wheel" else -1.0
    groove = sign * wear_mm * np.exp(-(((y - centre_mm) / 18.0) ** 2))
    rate, start = random.uniform(0.0, 0.12, 8), random.uniform(0.0, 2.0 * np.pi, 8)
    waves = 0.02 * np.cos(2.0 * np.pi * rate * y[:, None] + start).sum(axis=1)
    return outline.with_points(y, outline.z_mm + groove + waves)


def pairings() -> list[Pairing]:
    """Return a small fleet on a small line, everything worn unevenly."""
    wheel, rail = design("S1002"), design("60E1")
    wheelsets = [
        WheelsetShape(
            left=worn(wheel, seed=seed, wear_mm=0.3 * seed, centre_mm=2.0),
            right=worn(wheel, seed=seed + 50, wear_mm=0.2 * seed, centre_mm=-3.0),
            left_radius_mm=460.0,
            right_radius_mm=460.0 + 0.1 * seed,
            back_to_back_mm=1360.0,
        )
        for seed in range(4)
    ]
    tracks = [
        TrackShape(
            left=worn(rail, seed=seed + 100, wear_mm=0.5 * seed, centre_mm=-8.0),
            right=worn(rail, seed=seed + 150, wear_mm=0.3 * seed, centre_mm=4.0),
            gauge_mm=1435.0 + seed,
        )
        for seed in range(4)
    ]
    return [
        Pairing(
            wheelset=wheelset,
            track=track,
            sides=prepare(wheelset, track, yaw_rad=0.0, grid_mm=GRID_MM),
        )
        for wheelset, track in product(wheelsets, tracks)
    ]


def compiled_tables(group: list[Pairing], shifts: Floats, seconds: float) -> float:
    """Return whole contact tables per second, taking the pairings in turn."""
    return rate(
        lambda one: table_of(
            one.wheelset, one.track, one.sides, shifts=shifts, yaw_rad=0.0, second=True
        ),
        group,
        seconds,
    )


def plain_tables(group: list[Pairing], shifts: Floats, seconds: float) -> float:
    """Return plain NumPy searches per second, taking the pairings in turn."""
    return rate(lambda one: plain.search(*one.sides, shifts_mm=shifts), group, seconds)


def rate(work: Callable[[Pairing], object], group: list[Pairing], seconds: float) -> float:
    """Return how often per second `work` is done, over at least this many seconds."""
    done, begin, passed = 0, time.perf_counter(), 0.0
    while not done or passed < seconds:
        for one in group:
            work(one)
        done += len(group)
        passed = time.perf_counter() - begin
    return done / passed


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How the compiled tables agree with the plain ones, over all pairings."""

    shifts: int
    other_solution: int
    roll_rad: float
    wheel_place_mm: float
    roll_steps: float


def compare(group: list[Pairing], shifts: Floats) -> Agreement:
    """Compare both ways; a flange face can balance at two rolls, and then either is a solution."""
    roll, place, steps = [], [], []
    for one in group:
        table = table_of(
            one.wheelset, one.track, one.sides, shifts=shifts, yaw_rad=0.0, second=True
        )
        oracle = plain.search(*one.sides, shifts_mm=shifts)
        right = one.sides[0].wheel
        steps.append(oracle.roll_steps)
        roll.append(np.abs(table.roll_rad - oracle.roll_rad))
        place.append(
            np.abs(table.right.wheel_y_mm - right.first_mm - oracle.right_node * right.step_mm)
        )
    apart, places = np.concatenate(roll), np.concatenate(place)
    same = apart < SAME_ROLL_RAD
    return Agreement(
        shifts=apart.size,
        other_solution=int(np.count_nonzero(~same)),
        roll_rad=float(apart[same].max()),
        wheel_place_mm=float(places[same].max()),
        roll_steps=statistics.mean(steps),
    )


def in_threads(group: list[Pairing], shifts: Floats, seconds: float, workers: int) -> float:
    """Return tables per second of several threads; the kernels run without the interpreter lock."""
    with ThreadPoolExecutor(workers) as pool:
        runs = [pool.submit(compiled_tables, group, shifts, seconds) for _ in range(workers)]
        return sum(run.result() for run in runs)


def _in_process(reach_mm: float, seconds: float) -> float:
    group, shifts = pairings(), np.linspace(-reach_mm, reach_mm, SHIFTS)
    compiled_tables(group, shifts, 0.1)
    return compiled_tables(group, shifts, seconds)


def in_processes(reach_mm: float, seconds: float, workers: int) -> float:
    """Return tables per second of several processes."""
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        pool.starmap(_in_process, [(reach_mm, 0.1)] * workers)
        return sum(pool.starmap(_in_process, [(reach_mm, seconds)] * workers, chunksize=1))


def peak_memory_mb() -> float:
    """Return the largest memory this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def report(name: str, reach_mm: float, group: list[Pairing], seconds: float) -> None:
    """Measure and print one reach of shifts."""
    shifts = np.linspace(-reach_mm, reach_mm, SHIFTS)
    agreement = compare(group, shifts)
    rounds = [
        (
            compiled_tables(group, shifts, seconds),
            plain_tables(group, shifts, seconds),
            in_processes(reach_mm, seconds, 2),
            in_threads(group, shifts, seconds, 2),
        )
        for _ in range(ROUNDS)
    ]
    fast, slow, processes, threads = (max(column) for column in zip(*rounds, strict=True))
    nodes = statistics.mean(side.wheel.rows.shape[1] for one in group for side in one.sides)
    nominal = SHIFTS * 2 * agreement.roll_steps * nodes * 6 * fast / 1e9
    print(f"{SHIFTS} shifts over ±{reach_mm:g} mm, {name}")
    print(f"  compiled, one core      {fast:10,.0f} tables/s  ({1e6 / fast:,.0f} us each)")
    print(f"  plain NumPy, one core   {slow:10,.0f} tables/s  ({1e3 / slow:,.1f} ms each)")
    print(f"  ratio                   {fast / slow:10.0f}")
    print(f"  two processes           {processes:10,.0f} tables/s  ({processes / fast:.2f} of one)")
    print(f"  two threads             {threads:10,.0f} tables/s  ({threads / fast:.2f} of one)")
    print(
        f"  nominal operations      {nominal:10.1f} GFLOP/s, "
        f"{100.0 * nominal / GFLOPS_PER_CORE:.0f} % of {GFLOPS_PER_CORE:g} "
        "(nodes left out count as gain)"
    )
    print(
        f"  agreement               roll {agreement.roll_rad:.1e} rad, wheel place "
        f"{agreement.wheel_place_mm:.1e} mm; {agreement.other_solution} of {agreement.shifts:,} "
        "shifts balance at another roll too"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=1.0)
    asked = parser.parse_args()
    group = pairings()
    begin = time.perf_counter()
    compiled_tables(group, np.linspace(-4.0, 4.0, SHIFTS), 0.0)
    print(f"{len(group)} worn pairings; first tables after {time.perf_counter() - begin:.2f} s")
    for name, reach_mm in REACHES_MM.items():
        report(name, reach_mm, group, asked.seconds)
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
    print(f"peak memory {peak_memory_mb():,.0f} MB, of each worker process {children:,.0f} MB")


if __name__ == "__main__":
    main()
