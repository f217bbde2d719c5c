"""Every command line that a page, a help text or an example shows does what it promises."""

import re
import shlex
import shutil
from pathlib import Path

import click
import pytest

from tapertread.cli import main
from tapertread.cli.answers import DONE
from tapertread.cli.page import every_command
from tapertread.demo import write_demo

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
EXAMPLES = sorted((ROOT / "examples").rglob("*.toml"))
BLOCK = re.compile(r"```(?:sh|console|shell|bash)\n(.*?)```", flags=re.DOTALL)
LINE = re.compile(r"^(?:\$ |#\s+)?(tapertread .+)$", flags=re.MULTILINE)

SCANNER = """
recipe = 1
name = "scanner"
kind = "wheel"

[columns]
asset = "wheelset"
side = "side"
campaign = "campaign"
y = "y_in"
z = "z_in"

[units]
y = "in"
z = "in"
"""


def _shown() -> list[str]:
    """Return every line shown, each once; lines that go on after a backslash are joined."""
    texts = [block for page in PAGES for block in BLOCK.findall(page.read_text(encoding="utf-8"))]
    texts += [path.read_text(encoding="utf-8") for path in EXAMPLES]
    texts += [re.sub(r"^\s+", "", str(one.epilog), flags=re.MULTILINE) for one in _commands()]
    found = (line for text in texts for line in LINE.findall(text.replace("\\\n", " ")))
    return list(dict.fromkeys(found))


def _commands() -> list[click.Command]:
    return list(every_command(click.Context(main, info_name="tapertread")))


@pytest.fixture
def desk(tmp_path, monkeypatch, wheel_file):
    """Lay out what the lines name: the examples, a worn wheel, a survey to read."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    shutil.copy(wheel_file, tmp_path / "worn.csv")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_lines_are_found_in_pages_help_and_examples() -> None:
    shown = _shown()
    assert {shlex.split(line)[1] for line in shown} >= {one.name for one in _commands()}
    assert sum("examples/" in line for line in shown) >= 2


@pytest.mark.parametrize("line", _shown())
def test_a_line_shown_does_what_it_promises(call, desk, small_demo, line: str) -> None:
    """The invented survey stands for `my-survey`; the demo is written in its small form."""
    args = shlex.split(line, comments=True)[1:]
    if args[0] == "demo":
        args += ["--which", "us"]
    if args[0] == "assess":
        write_demo(desk / "my-survey", which="us")
    if args[0] == "import":
        shutil.copytree(small_demo[0], desk / "my-survey")
        shutil.copy(next((desk / "my-survey" / "wheels").glob("*.csv")), desk / "wheels-2031.csv")
        (desk / "scanner.toml").write_text(SCANNER, encoding="utf-8")
    done = call(*args)
    assert done.status == DONE, done.err
    assert done.out.strip()
