"""The page that tells the story names everything that stands out."""

from pathlib import Path

import pytest

from tapertread.demo import DemoTruth
from tapertread.demo.plan import Plan, read_plan

PAGE = (Path(__file__).parents[2] / "docs" / "demo.md").read_text(encoding="utf-8")


def _outstanding(plan: Plan) -> list[str]:
    sections = [one.id for one in plan.section if one.note and "crushed" in one.note]
    sections += [one.id for one in plan.section if one.lubricated or one.shoulder_mm > 0.0]
    renewed = [asset for asset, _ in plan.maintenance.renewed]
    return [one.id for one in plan.wheelset] + sections + [*plan.maintenance.ground, *renewed]


def test_every_wheelset_and_section_that_stands_out_is_named() -> None:
    missing = [name for name in _outstanding(read_plan("main")) if name not in PAGE]
    assert not missing
    assert not [one.id for one in read_plan("us").wheelset if one.id not in PAGE]


@pytest.mark.parametrize("which", ["main", "us"])
def test_every_planted_trap_is_explained(which: str, request: pytest.FixtureRequest) -> None:
    truth: DemoTruth = request.getfixturevalue(f"{which}_truth")
    assert not {one.trap for one in truth.planted if f"`{one.trap}`" not in PAGE}


def test_every_device_of_the_main_railway_is_introduced() -> None:
    assert all(f"`{name}`" in PAGE for name in read_plan("main").device)


def test_the_page_says_first_that_nothing_exists() -> None:
    assert "Nothing here exists" in PAGE[:200]
    assert "clearance to run" in PAGE
