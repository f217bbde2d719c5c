"""The page of commands is made from the commands, and fresh."""

from pathlib import Path

from tapertread.cli.group import COMMANDS
from tapertread.cli.page import commands_page

PAGE = Path(__file__).parents[2] / "docs" / "commands.md"


def test_the_page_is_fresh() -> None:
    """Renew it with ``python -m tapertread.cli.page > docs/commands.md``."""
    assert PAGE.read_text(encoding="utf-8") == commands_page()


def test_every_command_has_its_section_and_no_cell_is_empty_of_text() -> None:
    page = commands_page()
    assert [line[3:] for line in page.splitlines() if line.startswith("## ")] == list(COMMANDS)
    for line in page.splitlines():
        if line.startswith("| `"):
            assert line.rstrip(" |").rsplit("|", 1)[-1].strip(), line


def test_it_says_that_wrong_usage_leaves_standard_output_empty(call) -> None:
    """The page's promise and what a call does, side by side."""
    page = " ".join(commands_page().split())
    assert "2 wrong usage: then, with `--json` too, nothing stands on standard output" in page
    done = call("pair", "--json")
    assert (done.status, done.out) == (2, "")
    assert "Usage:" in done.err
