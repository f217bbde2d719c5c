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
