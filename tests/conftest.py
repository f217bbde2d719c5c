"""What every room's tests share: short and whole sweeps, and kernels compiled once.

With several workers the kernels are compiled once, before the workers start, so that they do not
all compile the same. Drawn examples are the same at every run, so that a red build can be made
again; ``TAPERTREAD_EXAMPLES=searching`` draws new ones.
"""

import os
import time

import hypothesis
import pytest

COMPILED_S = pytest.StashKey[float]()

hypothesis.settings.register_profile("fixed", derandomize=True, deadline=None)
hypothesis.settings.register_profile("searching", deadline=None)
hypothesis.settings.load_profile(os.environ.get("TAPERTREAD_EXAMPLES", "fixed"))


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--whole-sweeps", action="store_true", help="run every sweep in its whole, slow form"
    )


def pytest_configure(config: pytest.Config) -> None:
    if getattr(config.option, "numprocesses", None) and not hasattr(config, "workerinput"):
        config.stash[COMPILED_S] = compile_kernels()


def compile_kernels() -> float:
    """Run the contact search once, so that its machine code is on disk; return the seconds."""
    from tapertread.contact import TrackShape, WheelsetShape, contact_table  # noqa: PLC0415
    from tapertread.shapes import design  # noqa: PLC0415

    start = time.perf_counter()
    wheel, rail = design("S1002"), design("60E1")
    wheelset = WheelsetShape(
        left=wheel, right=wheel, left_radius_mm=460.0, right_radius_mm=460.0, back_to_back_mm=1360.0
    )
    contact_table(wheelset, TrackShape(left=rail, right=rail))
    return time.perf_counter() - start


def pytest_report_header(config: pytest.Config) -> list[str]:
    spent = config.stash.get(COMPILED_S, None)
    return [] if spent is None else [f"kernels ready in {spent:.1f} s"]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the whole form of sweeps, unless asked for.

    A sweep that takes `whole_sweeps` chooses its own short form and always runs.
    """
    if config.getoption("--whole-sweeps"):
        return
    later = pytest.mark.skip(reason="the whole sweep runs with --whole-sweeps")
    for item in items:
        if item.get_closest_marker("sweep") and "whole_sweeps" not in _fixtures(item):
            item.add_marker(later)


def _fixtures(item: pytest.Item) -> list[str]:
    return list(getattr(item, "fixturenames", []))


@pytest.fixture(scope="session")
def whole_sweeps(pytestconfig: pytest.Config) -> bool:
    """Whether sweeps run in their whole form."""
    return bool(pytestconfig.getoption("--whole-sweeps"))
