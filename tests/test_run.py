"""``run.py``: what it makes, when it makes it anew, and what it says where it cannot."""

import ast
import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

SCRIPT = Path(__file__).parents[1] / "run.py"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Return the script set in an empty repository, with what it starts recorded and not run."""
    spec = importlib.util.spec_from_file_location("run_under_test", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("requirements.lock", "requirements-dev.lock", "pyproject.toml"):
        (tmp_path / name).write_text(name)
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "stamp.json")
    monkeypatch.setattr(module, "LOCK", tmp_path / "requirements.lock")
    monkeypatch.setattr(module, "TEST_LOCK", tmp_path / "requirements-dev.lock")
    monkeypatch.setattr(module, "is_root", lambda: False)
    monkeypatch.chdir(tmp_path)
    module.started = []
    module.failing = lambda _command: False

    def start(command: list[str], **_: object) -> SimpleNamespace:
        module.started.append(" ".join(command))
        if "venv" in command:
            (tmp_path / ".venv" / "bin").mkdir(parents=True)
            (tmp_path / ".venv" / "bin" / "python").touch()
        return SimpleNamespace(returncode=int(module.failing(" ".join(command))))

    monkeypatch.setattr(module.subprocess, "run", start)
    return module


def started(run: ModuleType, word: str) -> list[str]:
    return [command for command in run.started if word in command]


def test_only_the_standard_library_is_needed() -> None:
    for node in ast.walk(ast.parse(SCRIPT.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            assert {one.name.split(".")[0] for one in node.names} <= sys.stdlib_module_names
        elif isinstance(node, ast.ImportFrom):
            assert str(node.module).split(".")[0] in sys.stdlib_module_names


def test_an_old_python_can_still_read_the_file_to_be_told() -> None:
    ast.parse(SCRIPT.read_text(encoding="utf-8"), feature_version=(3, 8))


def test_an_old_python_is_told_what_is_needed(run, monkeypatch, capsys) -> None:
    monkeypatch.setattr(run.sys, "version_info", (3, 9, 2))
    with pytest.raises(SystemExit) as stopped:
        run.main(["demo"])
    assert stopped.value.code == 1
    assert "needs Python 3.11 or newer" in capsys.readouterr().err
    assert run.started == []


def test_the_first_call_makes_the_environment_from_the_lock_and_runs(run) -> None:
    assert run.main(["demo", "--json"]) == 0
    make, pins, package, command = run.started
    assert make.endswith(f"-m venv {run.VENV}")
    assert pins.endswith(f"--require-hashes -r {run.LOCK}")
    assert f"--editable {run.ROOT}" in package
    assert "--no-deps" in package
    assert command.endswith("-m tapertread demo --json")


def test_later_calls_only_run(run) -> None:
    run.main(["list"])
    run.started.clear()
    run.main(["list", "designs"])
    assert len(run.started) == 1


@pytest.mark.parametrize("name", ["requirements.lock", "pyproject.toml"])
def test_a_changed_lock_or_project_makes_it_anew(run, name) -> None:
    run.main(["list"])
    (run.ROOT / name).write_text("changed")
    run.started.clear()
    (run.VENV / "left-over").touch()
    run.main(["list"])
    assert started(run, "-m venv")
    assert not (run.VENV / "left-over").exists()


@pytest.mark.parametrize(
    "spoil",
    [
        lambda run: run.STAMP.write_text("{torn"),
        lambda run: run.STAMP.unlink(),
        lambda run: run.script("python").unlink(),
        lambda run: run.STAMP.write_text(
            run.STAMP.read_text().replace('"python": "', '"python": "9')
        ),
    ],
    ids=["torn stamp", "no stamp", "no interpreter", "other Python"],
)
def test_an_environment_that_is_not_whole_is_made_anew(run, spoil) -> None:
    run.main(["list"])
    spoil(run)
    run.started.clear()
    run.main(["list"])
    assert started(run, "-m venv")


def test_the_stamp_is_written_last(run) -> None:
    run.failing = lambda command: "--editable" in command
    with pytest.raises(SystemExit) as stopped:
        run.main(["demo"])
    assert stopped.value.code == 1
    assert not run.STAMP.exists()
    assert not started(run, "tapertread demo")


def test_the_tests_add_to_an_environment_that_runs(run) -> None:
    run.main(["list"])
    run.started.clear()
    assert run.main(["test"]) == 0
    assert not started(run, "-m venv")
    assert started(run, f"--require-hashes -r {run.TEST_LOCK}")
    assert set(json.loads(run.STAMP.read_text())["made_of"]) == {
        "requirements.lock",
        "requirements-dev.lock",
        "pyproject.toml",
    }
    run.started.clear()
    run.main(["list"])
    assert len(run.started) == 1


@pytest.mark.parametrize(
    "name", ["ruff check", "ruff format", "-m mypy", "lint-imports", "-m pytest"]
)
def test_any_failed_check_fails_the_whole_and_the_others_still_run(run, name, capsys) -> None:
    run.failing = lambda command: name in command
    assert run.main(["test"]) == 1
    assert len(started(run, "ruff") + started(run, "mypy")) == 3
    assert started(run, "lint-imports")
    assert started(run, "pytest -n 2")
    assert "failed: " in capsys.readouterr().err


def test_what_follows_test_goes_to_the_tests(run) -> None:
    run.main(["test", "-k", "pair", "--whole-sweeps"])
    assert run.started[-1].endswith("pytest -n 2 --dist loadfile -k pair --whole-sweeps")


def test_the_exit_status_of_the_command_is_passed_on(run, monkeypatch) -> None:
    run.main(["list"])
    monkeypatch.setattr(run.subprocess, "run", lambda *_, **__: SimpleNamespace(returncode=2))
    assert run.main(["steer"]) == 2


def test_without_arguments_the_help_is_shown(run) -> None:
    run.main([])
    assert run.started[-1].endswith("-m tapertread --help")


def test_a_missing_lock_is_named(run, capsys) -> None:
    run.LOCK.unlink()
    with pytest.raises(SystemExit):
        run.main(["demo"])
    assert "requirements.lock is missing" in capsys.readouterr().err


def test_without_ensurepip_one_line_says_what_to_install(run, monkeypatch, capsys) -> None:
    monkeypatch.setattr(run.importlib.util, "find_spec", lambda _name: None)
    with pytest.raises(SystemExit) as stopped:
        run.main(["demo"])
    assert stopped.value.code == 1
    assert "apt-get install -y python3-venv" in capsys.readouterr().err.splitlines()[-1]
    assert run.started == []


def test_root_on_debian_installs_what_is_missing_itself(run, monkeypatch, tmp_path) -> None:
    monkeypatch.setattr(run.importlib.util, "find_spec", lambda _name: None)
    monkeypatch.setattr(run, "is_root", lambda: True)
    monkeypatch.setattr(run, "has_apt", lambda: True)
    monkeypatch.setattr(run, "CHROMIUM", tmp_path / "no-chromium")
    assert run.main(["test"]) == 0
    installs = started(run, "apt-get install")
    assert installs[0].endswith("--no-install-recommends python3-venv")
    assert installs[1].endswith("--no-install-recommends chromium fonts-dejavu-core")
    assert len(started(run, "apt-get update")) == 2


def test_the_alias_of_ci_is_just_the_tests() -> None:
    script = SCRIPT.parent / ".ci" / "run"
    lines = [line for line in script.read_text().splitlines() if line and line[0] != "#"]
    assert lines[0] == "set -euo pipefail"
    assert lines[-1] == "python3 run.py test"
    subprocess.run(["bash", "-n", script], check=True)
