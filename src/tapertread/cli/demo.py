"""``tapertread demo``: the invented railway, written and assessed."""

from __future__ import annotations

from pathlib import Path

import click

from tapertread.cli.answers import Answer
from tapertread.cli.assess import KEYS, assessed
from tapertread.cli.house_command import house_command
from tapertread.demo import write_demo
from tapertread.demo.plan import Which


@house_command("demo", example="tapertread demo demo-survey", keys=KEYS)
@click.argument("folder", type=click.Path(path_type=Path), default="demo-survey")
@click.option(
    "--which",
    type=click.Choice(["main", "us"]),
    default="main",
    help="The metric railway, or the small one in US customary units.",
)
def command(folder: Path, which: Which) -> Answer:
    """Write the invented demo survey into FOLDER and assess it.

    Two campaigns of an invented railway, with faults of wheels, rails and devices planted in them.
    FOLDER must be new, empty, or hold the same demo.
    """
    write_demo(folder, which=which)
    return assessed(folder, folder)
