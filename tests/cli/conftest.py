"""The command line in one process, strict JSON, and files as a user would hold them."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tapertread.cli import main
from tapertread.shapes import design
from tapertread.shapes.outline import Outline


def _no_constant(name: str) -> float:
    raise AssertionError(f"{name} is no JSON")


@dataclass(frozen=True)
class Run:
    """What a call left behind."""

    status: int
    out: str
    err: str

    @property
    def data(self) -> dict[str, Any]:
        """The one JSON object on standard output; NaN and infinity are no JSON."""
        found = json.loads(self.out, parse_constant=_no_constant)
        assert isinstance(found, dict)
        return found

    @property
    def refused(self) -> dict[str, Any]:
        """The refusal on standard output."""
        assert self.status == 1, self.err
        assert list(self.data) == ["refused"]
        return self.data["refused"]


@pytest.fixture(scope="session")
def call() -> Callable[..., Run]:
    """Call the command in this process."""

    def made(*args: object) -> Run:
        result = CliRunner().invoke(main, [str(one) for one in args])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Run(status=result.exit_code, out=result.stdout, err=result.stderr)

    return made


@pytest.fixture(scope="session")
def as_table() -> Callable[..., str]:
    """Write an outline as the text of a table."""

    def made(outline: Outline, *, header: str = "y_mm,z_mm", per_mm: float = 1.0) -> str:
        rows = (
            f"{y * per_mm:.5f},{z * per_mm:.5f}"
            for y, z in zip(outline.y_mm, outline.z_mm, strict=True)
        )
        return "\n".join([header, *rows, ""])

    return made


@pytest.fixture(scope="session")
def wheel_file(tmp_path_factory: pytest.TempPathFactory, as_table: Callable[..., str]) -> Path:
    path = tmp_path_factory.mktemp("wheel") / "new-wheel.csv"
    path.write_text(as_table(design("S1002", step_mm=0.2)), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def rail_file(tmp_path_factory: pytest.TempPathFactory, as_table: Callable[..., str]) -> Path:
    path = tmp_path_factory.mktemp("rail") / "new-rail.csv"
    path.write_text(as_table(design("60E1", step_mm=0.2)), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def small_demo(tmp_path_factory: pytest.TempPathFactory, call: Callable[..., Run]) -> Any:
    """Write and assess the small demo once; return its folder and the answer."""
    folder = tmp_path_factory.mktemp("demo") / "survey"
    return folder, call("demo", folder, "--which", "us", "--json")
