"""Set tapertread up and run it.

``python3 run.py demo`` assesses the invented railway, ``python3 run.py test`` runs every check;
anything else is passed on to the command ``tapertread``. The first call makes ``.venv`` beside this
file from the committed lock; later calls use it. Only the standard library is needed.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NoReturn

OLDEST_PYTHON = (3, 11)
ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "tapertread-stamp.json"
LOCK = ROOT / "requirements.lock"
TEST_LOCK = ROOT / "requirements-dev.lock"
CHROMIUM = Path("/usr/bin/chromium")
ONE_THREAD = {"NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def main(args: Sequence[str]) -> int:
    """Set up what is needed and run; return the exit status."""
    if sys.version_info < OLDEST_PYTHON:
        oldest = ".".join(str(part) for part in OLDEST_PYTHON)
        stop(f"tapertread needs Python {oldest} or newer; this is {sys.version.split()[0]}")
    if args and args[0] == "test":
        return run_tests(args[1:])
    set_up(tests=False)
    return call([str(script("python")), "-m", "tapertread", *(args or ["--help"])])


def run_tests(pytest_args: Sequence[str]) -> int:
    """Run every check of the house; return 1 if any failed."""
    set_up(tests=True)
    os.chdir(ROOT)
    environment = {**os.environ, **ONE_THREAD}
    if is_root():
        install_browser()
        environment["TAPERTREAD_REQUIRE_BROWSER"] = "1"
    failed = [
        name for name, command in checks(pytest_args) if not passes(name, command, environment)
    ]
    say(f"failed: {', '.join(failed)}" if failed else "all checks passed")
    return 1 if failed else 0


def checks(pytest_args: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Return name and command of each check, the quick ones first.

    The tests compile the kernels once before their two workers start (``tests/conftest.py``); a
    file stays with one worker, so that what its tests share is made once.
    """
    module = [str(script("python")), "-m"]
    return [
        ("lint", [*module, "ruff", "check", "."]),
        ("format", [*module, "ruff", "format", "--check", "."]),
        ("types", [*module, "mypy"]),
        ("layers", [str(script("lint-imports"))]),
        ("tests", [*module, "pytest", "-n", "2", "--dist", "loadfile", *pytest_args]),
    ]


def passes(name: str, command: Sequence[str], environment: Mapping[str, str]) -> bool:
    """Run one check and say how it went."""
    say(name)
    start = time.monotonic()
    passed = call(command, environment) == 0
    say(f"{name}: {'passed' if passed else 'FAILED'} in {time.monotonic() - start:.0f} s")
    return passed


def set_up(*, tests: bool) -> None:
    """Make ``.venv`` as the lock says; a stamp, written last, tells that it is whole."""
    wanted = stamp(tests=tests)
    found = read_stamp()
    if found in (wanted, stamp(tests=True)):
        return
    if found != stamp(tests=False):
        make_venv()
    STAMP.unlink(missing_ok=True)
    say("installing; this happens once")
    install("--require-hashes", "-r", str(TEST_LOCK if tests else LOCK))
    install("--no-deps", "--no-build-isolation", "--editable", str(ROOT))
    unfinished = STAMP.with_suffix(".tmp")
    unfinished.write_text(json.dumps(wanted), encoding="utf-8")
    unfinished.replace(STAMP)


def stamp(*, tests: bool) -> dict[str, object]:
    """Return what the virtual environment has to be made of."""
    inputs = [LOCK, *([TEST_LOCK] if tests else []), ROOT / "pyproject.toml"]
    return {
        "python": sys.version,
        "folder": str(ROOT),
        "made_of": {path.name: digest(path) for path in inputs},
    }


def digest(path: Path) -> str:
    """Return a hash of a file that must be there."""
    if not path.is_file():
        stop(f"{path.name} is missing beside run.py; get a whole copy of the repository")
    return hashlib.sha256(path.read_bytes()).hexdigest()


def read_stamp() -> object:
    """Return the stamp of a virtual environment that can run, else ``None``."""
    try:
        found: object = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return found if script("python").exists() else None


def make_venv() -> None:
    """Make an empty ``.venv``, in place of one that does not fit."""
    if importlib.util.find_spec("ensurepip") is None:
        if not (is_root() and has_apt()):
            stop("this Python cannot make a virtual environment: apt-get install -y python3-venv")
        apt_install("python3-venv")
    say("making .venv")
    if VENV.is_symlink():
        VENV.unlink()
    shutil.rmtree(VENV, ignore_errors=True)
    must([sys.executable, "-m", "venv", str(VENV)])


def install(*args: str) -> None:
    """Install into ``.venv``, quietly."""
    quiet = ["--quiet", "--disable-pip-version-check", "--no-input"]
    must([str(script("python")), "-m", "pip", "install", *quiet, *args])


def install_browser() -> None:
    """Install the browser that the page tests drive, where it is missing and apt can bring it."""
    if not CHROMIUM.exists() and has_apt():
        apt_install("chromium", "fonts-dejavu-core")


def apt_install(*packages: str) -> None:
    """Install system packages without what they merely recommend."""
    say(f"apt-get install {' '.join(packages)}")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    quiet = ["-y", "-qq", "--no-install-recommends"]
    must(["apt-get", "update", "-qq"], environment)
    must(["apt-get", "install", *quiet, *packages], environment)


def is_root() -> bool:
    """Return whether this runs with the rights to install system packages."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def has_apt() -> bool:
    """Return whether this system installs its packages by apt."""
    return shutil.which("apt-get") is not None


def script(name: str) -> Path:
    """Return a program of ``.venv``."""
    return VENV / "Scripts" / f"{name}.exe" if os.name == "nt" else VENV / "bin" / name


def call(command: Sequence[str], environment: Mapping[str, str] | None = None) -> int:
    """Run a program in the current folder; return its exit status."""
    try:
        return subprocess.run(command, env=environment, check=False).returncode
    except KeyboardInterrupt:
        return 130


def must(command: Sequence[str], environment: Mapping[str, str] | None = None) -> None:
    """Run a program of the set-up, which has to succeed; what it prints is no result."""
    status = subprocess.run(command, env=environment, check=False, stdout=sys.stderr).returncode
    if status != 0:
        stop(f"failed with status {status}: {' '.join(command)}")


def say(text: str) -> None:
    """Tell what is going on, beside what the command prints."""
    print(f"run.py: {text}", file=sys.stderr, flush=True)


def stop(text: str) -> NoReturn:
    """End with a message."""
    say(text)
    sys.exit(1)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
