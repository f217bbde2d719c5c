"""How fast contact tables are computed, beside the same method in plain NumPy.

    python benchmarks/contact.py --seconds 2
    python benchmarks/contact.py --clock cpu     (where others use the machine too)

A contact table is one worn, uneven wheelset on one worn, uneven track: 65 shifts on a common grid
of 0.2 mm, roll solved at each. The plain version works on whole arrays over shifts and nodes, on
the same grid, with the same rule for the roll; it is also the oracle of the tests. Sections are
made ready before the clock starts, for both. The compiled search does more: it proves that no other
place is closer and finds the second contacts. A whole table adds places, angles and curvatures on
both bodies, which the plain version leaves out. Rates are the best of rounds in turn, so that what
else runs on the machine disturbs least; by the CPU's clock each worker counts its own seconds.

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

from tapertread.contact import ContactTable, TrackShape, WheelsetShape, plain
from tapertread.contact.records import GRID_MM, Floats
from tapertread.contact.rolling import search_sides, table_of
from tapertread.contact.sides import Side, prepare
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline

SHIFTS = 65
REACHES_MM = {"within the flange clearance": 4.0, "up the flange": 8.0}
GFLOPS_PER_CORE = 49.0
ROUNDS = 5
SAME_ROLL_RAD = 1e-9
CLOCKS: dict[str, Callable[[], float]] = {"wall": time.perf_counter, "cpu": time.thread_time}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """One wheelset on one track, its sides ready."""

    wheelset: WheelsetShape
    track: TrackShape
    sides: tuple[Side, Side]

    def table(self, shifts: Floats) -> ContactTable:
        """Return the whole contact table."""
        return table_of(
            self.wheelset, self.track, self.sides, shifts=shifts, yaw_rad=0.0, second=True
        )


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What is measured: pairings over one reach of shifts, for some seconds of a clock."""

    group: list[Pairing]
    reach_mm: float
    seconds: float
    clock: str

    @property
    def shifts(self) -> Floats:
        """Shifts of every table, mm."""
        return np.linspace(-self.reach_mm, self.reach_mm, SHIFTS)

    def rate(self, work: Callable[[Pairing], object]) -> float:
        """Return how often per second `work` is done, taking the pairings in turn."""
        clock = CLOCKS[self.clock]
        done, begin, passed = 0, clock(), 0.0
        while not done or passed < self.seconds:
            for one in self.group:
                work(one)
            done += len(self.group)
            passed = clock() - begin
        return done / passed

    def tables(self) -> float:
        """Return whole compiled contact tables per second."""
        shifts = self.shifts
        return self.rate(lambda one: one.table(shifts))

    def searches(self) -> float:
        """Return compiled searches per second: what the plain version does, and the proof."""
        shifts = self.shifts
        return self.rate(lambda one: search_sides(one.sides, shifts, second=True))

    def plain_searches(self) -> float:
        """Return plain NumPy searches per second."""
        shifts = self.shifts
        return self.rate(lambda one: plain.search(*one.sides, shifts_mm=shifts))

    def in_threads(self, workers: int) -> float:
        """Return tables per second of several threads; kernels hold no interpreter lock."""
        with ThreadPoolExecutor(workers) as pool:
            runs = [pool.submit(self.tables) for _ in range(workers)]
            return sum(run.result() for run in runs)

    def in_processes(self, workers: int) -> float:
        """Return tables per second of several processes."""
        with multiprocessing.get_context("spawn").Pool(workers) as pool:
            asked = [(self.reach_mm, self.seconds, self.clock)] * workers
            return sum(pool.starmap(_tables_of_own, asked, chunksize=1))


def _tables_of_own(reach_mm: float, seconds: float, clock: str) -> float:
    group = pairings()
    Bench(group=group, reach_mm=reach_mm, seconds=0.2, clock="wall").tables()
    return Bench(group=group, reach_mm=reach_mm, seconds=seconds, clock=clock).tables()


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How the compiled tables agree with the plain ones, over all pairings."""

    shifts: int
    other_solution: int
    roll_rad: float
    wheel_place_mm: float
    roll_steps: float


def compare(bench: Bench) -> Agreement:
    """Compare both ways; a flange face can balance at two rolls, and then either is a solution."""
    roll, place, steps = [], [], []
    for one in bench.group:
        table = one.table(bench.shifts)
        oracle = plain.search(*one.sides, shifts_mm=bench.shifts)
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


def nominal_gflop(bench: Bench, roll_steps: float) -> float:
    """Return the nominal operations of one table, in units of 1e9."""
    nodes = statistics.mean(side.wheel.rows.shape[1] for one in bench.group for side in one.sides)
    return float(SHIFTS * 2 * roll_steps * nodes * 6 / 1e9)


def report(name: str, bench: Bench) -> None:
    """Measure and print one reach of shifts."""
    agreement = compare(bench)
    rounds = [
        (
            bench.searches(),
            bench.tables(),
            bench.plain_searches(),
            bench.in_processes(2),
            bench.in_threads(2),
        )
        for _ in range(ROUNDS)
    ]
    search, table, slow, processes, threads = (max(column) for column in zip(*rounds, strict=True))
    share = nominal_gflop(bench, agreement.roll_steps) * search
    print(f"{SHIFTS} shifts over ±{bench.reach_mm:g} mm, {name}; {bench.clock} clock")
    print(f"  compiled search, one core {search:9,.0f} /s  ({1e6 / search:,.0f} us each)")
    print(f"  whole table, one core     {table:9,.0f} /s  ({1e6 / table:,.0f} us each)")
    print(f"  plain NumPy, one core     {slow:9,.0f} /s  ({1e3 / slow:,.1f} ms each)")
    print(
        f"  ratio                     {search / slow:9.0f} search, {table / slow:.0f} whole table"
    )
    print(f"  tables of two processes   {processes:9,.0f} /s  ({processes / table:.2f} of one)")
    if bench.clock == "wall":  # waiting for the interpreter's lock takes no time of the CPU
        print(f"  tables of two threads     {threads:9,.0f} /s  ({threads / table:.2f} of one)")
    print(
        f"  nominal operations        {share:9.1f} GFLOP/s, "
        f"{100.0 * share / GFLOPS_PER_CORE:.0f} % of {GFLOPS_PER_CORE:g} "
        "(nodes left out count as gain)"
    )
    print(
        f"  agreement                 roll {agreement.roll_rad:.1e} rad, wheel place "
        f"{agreement.wheel_place_mm:.1e} mm; {agreement.other_solution} of {agreement.shifts:,} "
        "shifts balance at another roll too"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=1.0)
    parser.add_argument("--clock", choices=sorted(CLOCKS), default="wall")
    asked = parser.parse_args()
    group = pairings()
    begin = time.perf_counter()
    Bench(group=group, reach_mm=4.0, seconds=0.0, clock="wall").tables()
    print(f"{len(group)} worn pairings; first tables after {time.perf_counter() - begin:.2f} s")
    for name, reach_mm in REACHES_MM.items():
        bench = Bench(group=group, reach_mm=reach_mm, seconds=asked.seconds, clock=asked.clock)
        report(name, bench)
    own, children = (
        resource.getrusage(who).ru_maxrss / 1024.0
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(f"peak memory {own:,.0f} MB, of each worker process {children:,.0f} MB")


if __name__ == "__main__":
    main()
