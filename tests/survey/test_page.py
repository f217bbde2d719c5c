"""The documentation says what the code accepts."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tapertread.railway import friction_states
from tapertread.survey.columns import table_kinds
from tapertread.survey.page import ROUTE_TABLES, refreshed, schema_texts

DOCS = Path(__file__).parents[2] / "docs"
REFRESH = "run: python -c 'from tapertread.survey.page import *; write_pages(Path(\"docs\"))'"


def test_the_page_is_fresh() -> None:
    page = (DOCS / "survey.md").read_text(encoding="utf-8")
    assert refreshed(page) == page, REFRESH


@pytest.mark.parametrize("name", sorted(schema_texts()))
def test_the_schemas_are_fresh(name: str) -> None:
    assert (DOCS / "schemas" / name).read_text(encoding="utf-8") == schema_texts()[name], REFRESH


def test_the_page_tells_every_table_column_and_friction_state() -> None:
    page = (DOCS / "survey.md").read_text(encoding="utf-8")
    for kind in table_kinds().values():
        assert f"### {kind.name}\n" in page
        for column in kind.columns.values():
            assert all(f"`{spelled}`" in page for spelled in column.spellings)
            assert column.text in page
    for state in friction_states().values():
        assert f"| `{state.name}` |" in page


def test_the_page_says_that_it_is_no_clearance() -> None:
    assert "clearance to run" in (DOCS / "survey.md").read_text(encoding="utf-8")


def test_the_schemas_hold_every_table_once_with_its_columns() -> None:
    found: dict[str, set[str]] = {}
    for name in ("route-1.json", "tables-1.json"):
        for table, schema in json.loads(schema_texts()[name])["properties"].items():
            assert table not in found
            found[table] = set(schema["items"]["properties"])
    assert set(found) == set(table_kinds())
    assert {"radius_m", "radius_ft", "curve_deg"} <= found["route"]
    for table, columns in found.items():
        assert all(table_kinds()[table].column_of(column) for column in columns)
    assert set(ROUTE_TABLES) == {"route", "kilometres"}


def test_the_worked_example_of_the_page_is_the_one_that_is_tested() -> None:
    page = (DOCS / "survey.md").read_text(encoding="utf-8")
    for row in ("| 700 | 0 to 700 |", "| 1350 | 700 to 2050 |", "| 1000 | 2050 to 3050 |"):
        assert row in page
