"""``tapertread assess``: from measurements to verdicts and report."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import click

from tapertread.cli.answers import Answer, answer_json
from tapertread.cli.house_command import house_command
from tapertread.cli.progress import progress_bar
from tapertread.cli.wording import paragraphs
from tapertread.report import assessment_report, write_html
from tapertread.study.assess import assess
from tapertread.study.assessment import Assessment
from tapertread.study.records import one_for_each_asset
from tapertread.survey import Survey, open_or_build

TOP_FINDINGS = 10
REPORT_NAME = "report.html"
RESULT_NAME = "assessment.json"
CAUTION = (
    "Decision support, never a clearance to run: local rules, the owner's standards and licensed "
    "or authorised persons decide."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """An assessment, and where its report and its JSON lie; ``None`` where they were not asked."""

    assessment: Assessment
    data: dict[str, object]
    report: Path | None
    result: Path | None


KEYS = {
    "survey": "its name",
    "invented": "whether it is an invented scenario",
    "folder": "where the survey lies",
    "campaigns": "rounds of measuring, oldest first; the latest is assessed",
    "wheelsets": "each wheelset: word, measures with uncertainty, traps found",
    "sections": "each section of line: word, measures with uncertainty, traps found",
    "findings": "each verdict, gravest first: id, subject, verdict, measured, uncertainty (k = 2), "
    "limit, unit, edition, source, why",
    "counts": "findings by verdict word",
    "refused": "measurements that were not used, and why",
    "plan": "null until there is one",
    "report": "paths of html and pdf, null where not written",
    "timings_s": "seconds by stage, and total",
    "sources": "what the answer rests on: key, text, status",
    "basis": "version, hash of the limits, state of the survey",
    "notes": "cautions, what is null and why",
}


@house_command("assess", example="tapertread assess my-survey --out assessed", keys=KEYS)
@click.argument("survey", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder for report and result; from a folder of raw tables, the survey is built there.",
)
def command(survey: Path, out: Path | None) -> Answer:
    """Assess SURVEY: from measurements to verdicts, reasons and report.

    Every outline is cleaned, aligned and gauged, every wheelset is put on every section that it
    meets, and each verdict stands beside its limit. A survey is only read. A folder of raw tables
    needs --out.
    """
    return assessed(survey, out)


def assessed(folder: Path, out: Path | None) -> Answer:
    """Return the answer of an assessment of a survey or a raw folder."""
    start = time.perf_counter()
    with progress_bar("import") as bar:
        survey = open_or_build(folder, out, progress=bar.files)
    imported = time.perf_counter()
    with progress_bar("assess") as bar:
        assessment = assess(survey, progress=bar.stage)
    written = write(assessment, survey, out=out, spent_s={"import": round(imported - start, 3)})
    return Answer(data=written.data, text=paragraphs(*_text(written)))


def write(
    assessment: Assessment, survey: Survey, *, out: Path | None, spent_s: dict[str, float]
) -> Written:
    """Write report and result of an assessment where a folder for them is given.

    Parameters
    ----------
    assessment : Assessment
    survey : Survey
        What was assessed.
    out : Path or None
        Folder for both.
    spent_s : dict of str to float
        Seconds spent before, by stage.
    """
    data = assessment.to_dict()
    report = result = None
    begin = time.perf_counter()
    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
        report = write_html(assessment_report(assessment), out / REPORT_NAME)
        data["report"] = {"html": str(report), "pdf": None}
    else:
        data["notes"] = [*_list(data["notes"]), "report.html: no folder was named (--out DIR)"]
    timings = {**spent_s, **assessment.timings_s, "report": round(time.perf_counter() - begin, 3)}
    data["timings_s"] = {**timings, "total": round(sum(timings.values()), 3)}
    data["folder"] = str(survey.folder)
    if out is not None:
        result = out / RESULT_NAME
        part = result.with_name(f"{RESULT_NAME}.tmp")
        part.write_text(json.dumps(json.loads(answer_json(data)), indent=1), encoding="utf-8")
        part.replace(result)
    return Written(assessment=assessment, data=data, report=report, result=result)


def _list(value: object) -> list[object]:
    return list(value) if isinstance(value, list) else []


def _text(written: Written) -> Iterator[str]:
    """Yield what a person wants to know first."""
    assessment = written.assessment
    invented = " (invented)" if assessment.invented else ""
    counts = ", ".join(f"{count} {word}" for word, count in assessment.counts().items() if count)
    yield (
        f"{assessment.name}{invented}: {len(assessment.wheelsets)} wheelsets, "
        f"{len(assessment.sections)} sections\n"
        f"{len(assessment.findings)} findings: {counts}"
    )
    first = one_for_each_asset(assessment.findings)
    yield "\n".join(
        f"{at:>3}. {one.word.value.upper()}: {one.subject}. {one.why}"
        for at, one in enumerate(first[:TOP_FINDINGS], start=1)
    )
    yield CAUTION
    if written.report is None:
        yield "No report was written; name a folder for it with --out."
    else:
        yield f"Report: {written.report}\nResult: {written.result}"
