"""The command as a process of its own: streams, exit status, an interrupted reader."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

COMMAND = [sys.executable, "-m", "tapertread"]


def process(*args: object, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *map(str, args)], capture_output=True, text=True, check=False, **options
    )


def test_one_object_on_standard_output_and_nothing_else() -> None:
    done = process("pair", "--wheel", "S1002", "--rail", "60E1", "--json")
    assert done.returncode == 0, done.stderr
    assert isinstance(json.loads(done.stdout), dict)
    assert done.stderr == ""


def test_refused_input_is_status_one_told_on_both_streams(tmp_path: Path) -> None:
    file = tmp_path / "empty.csv"
    file.touch()
    done = process("gauge", file, "--kind", "wheel", "--json")
    assert done.returncode == 1
    assert json.loads(done.stdout)["refused"]["file"] == str(file)
    assert done.stderr.startswith("Refused: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("args", [["nothing"], ["pair"], ["gauge", "a.csv", "--kind", "bogie"]])
def test_wrong_usage_is_status_two_with_nothing_on_standard_output(args: list[str]) -> None:
    done = process(*args)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Usage: tapertread" in done.stderr


def test_the_installed_script_is_the_same_command() -> None:
    script = Path(sys.executable).with_name("tapertread")
    done = subprocess.run([script, "--version"], capture_output=True, text=True, check=True)
    assert done.stdout == process("--version").stdout


def test_the_same_call_gives_the_same_bytes() -> None:
    asked = ("steer", "--wheel", "S1002", "--rail", "60E1", "--curve-radius", 300, "--json")
    assert process(*asked).stdout == process(*asked).stdout
