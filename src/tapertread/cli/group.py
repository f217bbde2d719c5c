"""The command ``tapertread``: its commands by name, each loaded when it is asked for.

The compiler, the solver and the store take their time to load; ``--help`` needs none of them.
"""

from __future__ import annotations

from importlib import import_module

import click

from tapertread._version import __version__

COMMANDS = {
    "demo": ("demo", "Write the invented demo survey and assess it."),
    "assess": ("assess", "Assess a survey: from measurements to verdicts and report."),
    "gauge": ("gauge", "Measure the wear of one wheel or rail outline."),
    "pair": ("pair", "Put one wheelset on one track: where they touch, how it steers."),
    "steer": ("steer", "Ask whether a shape rolls through a curve without its flange."),
    "import": ("import_", "Bring measurements into a survey, never twice."),
    "list": ("list_", "List designs, limits or sources with their status."),
}
"""Name of each command → module that holds it, and its duty in one line."""


class LazyGroup(click.Group):
    """A group that knows its commands by name and loads the module of the one it needs."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        """Return the names in the order in which people meet them."""
        return list(COMMANDS)

    def get_command(self, _ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load and return a command; ``None`` if there is none of this name."""
        if cmd_name not in COMMANDS:
            return None
        module, _ = COMMANDS[cmd_name]
        command: click.Command = import_module(f"tapertread.cli.{module}").command
        return command

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without loading any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, duty) for name, (_, duty) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example:\n\n\b\n    tapertread demo",
)
@click.version_option(__version__, prog_name="tapertread", help="Show the version and stop.")
def main() -> None:
    """From measured wheels and rails to verdicts, decisions and pictures.

    Every answer supports a decision and takes none: it is never a clearance to run. Local rules,
    the owner's standards and licensed or authorised persons decide.
    """
