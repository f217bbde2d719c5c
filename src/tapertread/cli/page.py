"""The page ``docs/commands.md``: every command, option and JSON key, made from the commands.

Run ``python -m tapertread.cli.page > docs/commands.md`` after a change of a command.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator

import click

from tapertread.cli.group import COMMANDS, main
from tapertread.cli.house_command import HouseCommand

_HEAD = """# Commands

Made from the commands themselves; do not edit by hand.

Every command prints text for a person; with `--json` it prints one JSON object on standard output
and everything else on standard error. A number that is not available is `null`, with a line in
`notes` that begins with its key. Exit status: 0 done, 1 refused input (with `--json` the object is
`{"refused": {"code", "found", "allowed", "todo", "file", "line", "column", "record"}}`), 2 wrong
usage: then, with `--json` too, nothing stands on standard output, and standard error says what is
wrong with the call.

A SHAPE is a design's name (`tapertread list designs`), a drawing file (`.toml`, see
[drawing.md](drawing.md)) or an outline file (see [outline-tables.md](outline-tables.md)). A name
that is a design wins over a file of the same name; write `./NAME` for the file.

Lengths are in mm or carry their unit: `1435`, `56.5in`, `1.435m`. Signs: shift > 0 toward the right
rail, yaw > 0 nose right, curve > 0 turns right, rolling radius difference right minus left.

Every answer supports a decision and takes none: it is never a clearance to run. Local rules, the
owner's standards and licensed or authorised persons decide.
"""


def commands_page() -> str:
    """Return the whole page as Markdown."""
    context = click.Context(main, info_name="tapertread")
    sections = (_section(command, context) for command in every_command(context))
    return "\n".join([_HEAD, *sections])


def every_command(context: click.Context) -> Iterator[HouseCommand]:
    """Yield every command, in the order of the help."""
    for name in COMMANDS:
        command = main.get_command(context, name)
        if isinstance(command, HouseCommand):
            yield command


def _section(command: HouseCommand, parent: click.Context) -> str:
    context = click.Context(command, info_name=command.name, parent=parent)
    usage = " ".join([context.command_path, *command.collect_usage_pieces(context)])
    example = str(command.epilog).rsplit("\n", 1)[-1].strip()
    lines = [
        f"## {command.name}",
        "",
        f"`{usage}`",
        "",
        inspect.cleandoc(command.help or ""),
        "",
        *("```sh", example, "```"),
        "",
        *("| option | default | what |", "|---|---|---|"),
        *(_option(one, context) for one in command.params if isinstance(one, click.Option)),
        "",
        *("| JSON key | what stands there |", "|---|---|"),
        *(f"| `{key}` | {_cell(text)} |" for key, text in command.keys.items()),
        "",
    ]
    return "\n".join(lines)


def _option(option: click.Option, context: click.Context) -> str:
    names = ", ".join(f"`{name}`" for name in option.opts)
    if not option.is_flag:
        names += f" {_cell(option.make_metavar(context))}"
    return f"| {names} | {_default(option)} | {_cell(option.help or '')} |"


def _default(option: click.Option) -> str:
    if option.required:
        return "required"
    return str(option.default) if isinstance(option.default, str | float) else ""


def _cell(text: str) -> str:
    """Return text that cannot break a table."""
    return text.replace("|", "\\|")


if __name__ == "__main__":
    sys.stdout.write(commands_page())
