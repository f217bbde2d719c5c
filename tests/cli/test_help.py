"""Help is complete, has an example that works, and loads nothing heavy."""

import shlex
import subprocess
import sys

import click
import pytest

from tapertread.cli import main
from tapertread.cli.group import COMMANDS
from tapertread.cli.page import every_command

HEAVY = ("numba", "llvmlite", "scipy", "numpy", "polars", "pyarrow", "sqlalchemy", "jinja2", "tqdm")

CONTEXT = click.Context(main, info_name="tapertread")
EVERY = list(every_command(CONTEXT))


def test_every_command_of_the_list_is_there() -> None:
    assert [command.name for command in EVERY] == list(COMMANDS)


@pytest.mark.parametrize("command", EVERY, ids=lambda one: one.name)
def test_the_line_in_the_list_and_the_help_of_a_command_agree(command: click.Command) -> None:
    """Both are there, begin with a verb and end with a full stop."""
    duty, text = COMMANDS[command.name][1], command.help
    for line in (duty, text.split("\n\n")[0].replace("\n", " ")):
        assert line[0].isupper()
        assert line.rstrip()[-1] == "." or line.endswith(")."), line
    assert duty.split()[0] == text.split()[0]


@pytest.mark.parametrize("command", EVERY, ids=lambda one: one.name)
def test_every_option_has_a_help_text(command: click.Command) -> None:
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, option.name
            assert option.help.split("  [")[0].endswith("."), option.help


@pytest.mark.parametrize("command", EVERY, ids=lambda one: one.name)
def test_every_argument_is_explained_in_the_text(command: click.Command) -> None:
    for argument in command.params:
        if isinstance(argument, click.Argument):
            shown = argument.make_metavar(click.Context(command)).strip("[].{}")
            words = shown.split("|") if "|" in shown else [argument.name.upper()]
            assert all(word in command.help for word in words), argument.name


@pytest.mark.parametrize("command", EVERY, ids=lambda one: one.name)
def test_the_example_of_a_command_can_be_parsed(command: click.Command) -> None:
    program, name, *args = shlex.split(str(command.epilog).rsplit("\n", 1)[-1])
    assert (program, name) == ("tapertread", command.name)
    command.make_context(name, args, parent=CONTEXT)


@pytest.mark.parametrize("args", [["--help"], ["-h"], ["--version"]])
def test_help_loads_nothing_heavy(args: list[str]) -> None:
    """What is not imported costs nothing: a bound that holds on any machine."""
    script = (
        "import sys\nfrom tapertread.cli import main\n"
        f"try:\n    main({args!r})\nexcept SystemExit:\n    pass\n"
        f"print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert "LOADED []" in done.stdout, done.stdout
    assert done.stderr == ""


def test_the_help_of_one_command_loads_no_other() -> None:
    script = (
        "import sys\nfrom tapertread.cli import main\n"
        "try:\n    main(['list', '--help'])\nexcept SystemExit:\n    pass\n"
        "print('LOADED', [n for n in sys.modules if n.startswith('tapertread.contact')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert "LOADED []" in done.stdout
