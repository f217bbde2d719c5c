"""The tables and the example of ``docs/contact.md`` are what the room computes."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tapertread.contact import contact_table, refined_conicity

PAGE = Path(__file__).parents[2] / "docs" / "contact.md"


def _table(heading: str) -> list[list[float]]:
    """Return the numbers of the table whose first column has this heading."""
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith(f"| {heading} |"))
    rows = []
    for line in lines[start + 2 :]:
        if not line.startswith("|"):
            break
        rows.append([float(cell) for cell in line.strip("| ").split("|")])
    return rows


def test_differences_are_those_computed(shapes: Any) -> None:
    rows = _table("shift mm")
    table = contact_table(
        shapes.wheelset("S1002"), shapes.track("60E1"), shifts_mm=[row[0] for row in rows]
    )
    assert len(rows) == 6
    for i, (_, difference, _, roll, place, angle) in enumerate(rows):
        assert round(float(table.rolling_radius_difference_mm[i]), 4) == difference
        assert round(1000.0 * float(table.roll_rad[i]), 4) == roll
        assert round(float(table.right.wheel_y_mm[i]), 2) == place
        assert round(float(table.right.contact_angle_rad[i]), 4) == angle


@pytest.mark.parametrize(("inclination", "column"), [(1.0 / 40.0, 1), (1.0 / 20.0, 3)])
def test_conicities_are_those_computed(shapes: Any, inclination: float, column: int) -> None:
    rows = _table("amplitude mm")
    table = contact_table(shapes.wheelset("S1002"), shapes.track("60E1", inclination=inclination))
    curve = refined_conicity(table, amplitudes_mm=[row[0] for row in rows])
    assert np.round(curve.value, 4).tolist() == [row[column] for row in rows]


def test_the_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)
    exec(compile(code, str(PAGE), "exec"), {})
    line, free = capsys.readouterr().out.split()
    assert float(line) < 0.0
    assert free in ("True", "False")
