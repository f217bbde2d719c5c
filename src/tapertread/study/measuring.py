"""Every outline of a survey cleaned, aligned and gauged, on as many cores as are given."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from tapertread.errors import RefusedInput, WrongUsage
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.inspect import Alongside, MeasuredOutline, measure_outline
from tapertread.shapes.outline import Kind, Side
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.study.crew import Crew

Progress = Callable[[str, int, int], None]
"""Called with the stage, how many are done and how many there are."""


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
    jobs: Sequence[Job], *, crew: Crew, progress: Progress
) -> list[MeasuredOutline | RefusedInput]:
    """Return all outlines measured or refused, in order, the same for any number of workers."""
    done = []
    for at, result in enumerate(crew.map(measure_one, jobs), start=1):
        done.append(result)
        progress("outlines", at, len(jobs))
    return done
