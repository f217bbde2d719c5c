"""Every outline of a survey cleaned, aligned and gauged, on as many cores as are given."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from tapertread.errors import RefusedInput, WrongUsage
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.inspect import Alongside, MeasuredOutline, measure_outline
from tapertread.shapes.outline import Kind, Side
from tapertread.shapes.raw_outline import RawOutline

Progress = Callable[[str, int, int], None]
"""Called with the stage, how many are done and how many there are."""

POOL_FROM = 64
"""Fewer outlines than this are not worth the start of other processes."""

CHUNK = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One outline to measure, with the name of its design and what is known beside it."""

    kind: Kind
    raw: RawOutline
    design: str
    alongside: Alongside


@dataclass(frozen=True, slots=True, kw_only=True)
class Measuring:
    """The outlines of one campaign by asset and side; refusals by the same key."""

    outlines: Mapping[tuple[str, Side], MeasuredOutline]
    refused: Mapping[tuple[str, Side], RefusedInput]


def measure_one(job: Job) -> MeasuredOutline | RefusedInput:
    """Return one measured outline, or the refusal that says why there is none."""
    try:
        return measure_outline(
            job.raw,
            kind=job.kind,
            design=design_drawing(job.design),
            alongside=job.alongside,
        )
    except RefusedInput as fault:
        return fault.at(file=job.raw.file, line=job.raw.first_line, record=job.raw.record)
    except WrongUsage as fault:
        return RefusedInput(
            "unknown-design",
            str(fault),
            allowed="designs that `tapertread list designs` shows as buildable",
            todo="name a design, or give a drawing of your own",
        ).at(file=job.raw.file, record=job.raw.record)


def measure_all(
    jobs: Sequence[Job], *, workers: int, progress: Progress
) -> list[MeasuredOutline | RefusedInput]:
    """Return all outlines measured or refused, in order, the same for any number of workers.

    Parameters
    ----------
    jobs : sequence of Job
    workers : int
        Processes to use; 1 measures here.
    progress : callable
    """
    done = []
    for at, result in enumerate(_results(jobs, workers), start=1):
        done.append(result)
        progress("outlines", at, len(jobs))
    return done


def _results(jobs: Sequence[Job], workers: int) -> Iterator[MeasuredOutline | RefusedInput]:
    if workers < 2 or len(jobs) < POOL_FROM:
        yield from map(measure_one, jobs)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=workers, mp_context=context) as pool:
        yield from pool.map(measure_one, jobs, chunksize=CHUNK)
