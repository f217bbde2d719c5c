"""``tapertread import``: bring measurements into a survey, never twice."""

from __future__ import annotations

from pathlib import Path

import click

from tapertread.cli.answers import DONE, REFUSED, Answer
from tapertread.cli.house_command import house_command
from tapertread.cli.progress import progress_bar
from tapertread.cli.wording import paragraphs
from tapertread.survey import ImportReport, import_files

KEYS = {
    "added": "records and outlines brought in",
    "already_there": "known before, not added again",
    "superseded": "replaced by newer ones, but kept",
    "refused": "each refusal: file, line, why, and its parts",
    "files": "the same counts file by file",
    "notes": "what was taken for granted",
}


@house_command(
    "import",
    example="tapertread import my-survey wheels-2031.csv --recipe scanner.toml",
    keys=KEYS,
)
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--recipe",
    type=click.Path(path_type=Path),
    help="Recipe by which the files are read; they then all hold outlines.",
)
def command(*, survey: Path, files: tuple[Path, ...], recipe: Path | None) -> Answer:
    """Bring measurements in FILES into SURVEY, never twice.

    Each file comes in whole or not at all. What was there before is not added again; what is
    refused is listed with file, line and reason, and the other files are kept. The exit status is 1
    if any file was refused.
    """
    with progress_bar("import") as bar:
        report = import_files(survey, files, recipe=recipe, progress=bar.files)
    return Answer(
        data=report.to_dict(),
        text=_text(report),
        status=REFUSED if report.refusals else DONE,
    )


def _text(report: ImportReport) -> str:
    counts = f"{report.added} added, {report.already_there} already there"
    if report.superseded:
        counts += f", {report.superseded} superseded"
    refused = [f"Refused: {refusal}" for refusal in report.refusals]
    return paragraphs(f"{counts}, {len(refused)} refused.", "\n".join(refused))
