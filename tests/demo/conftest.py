"""One written demo of each kind, shared by the tests of this room; nobody changes them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tapertread.demo import DemoTruth, write_demo


@pytest.fixture(scope="session")
def main_truth(tmp_path_factory: pytest.TempPathFactory) -> DemoTruth:
    return write_demo(tmp_path_factory.mktemp("demo") / "main", truth_file=True)


@pytest.fixture(scope="session")
def us_truth(tmp_path_factory: pytest.TempPathFactory) -> DemoTruth:
    return write_demo(tmp_path_factory.mktemp("demo") / "us", which="us")


@pytest.fixture(scope="session")
def main_folder(main_truth: DemoTruth) -> Path:
    return main_truth.folder


@pytest.fixture(scope="session")
def us_folder(us_truth: DemoTruth) -> Path:
    return us_truth.folder
