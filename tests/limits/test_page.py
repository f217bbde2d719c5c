"""The generated page is fresh and leaves no limit out; the glossary knows every name."""

import re
from pathlib import Path

import pytest

from tapertread.limits import CONDITIONS, limit_set, limit_set_names
from tapertread.limits.page import limits_page
from tapertread.units import FACTORS

DOCS = Path(__file__).parents[2] / "docs"


def test_the_page_in_docs_is_what_the_data_say():
    page = (DOCS / "limits.md").read_text(encoding="utf-8")
    assert page == limits_page(), "run: python -m tapertread.limits.page > docs/limits.md"


@pytest.mark.parametrize("name", limit_set_names())
def test_every_limit_stands_on_the_page_with_clause_and_status(name):
    rows = {
        line.split("`")[1]: line for line in limits_page().splitlines() if line.startswith("| `")
    }
    for limit in limit_set(name):
        assert limit.edition in rows[limit.id]
        assert rows[limit.id].endswith(f"| {limit.standing} |")


@pytest.mark.parametrize("name", limit_set_names())
def test_every_quantity_with_a_limit_is_in_the_glossary(name):
    known = set(re.findall(r"`([a-z0-9_]+)`", (DOCS / "glossary.md").read_text(encoding="utf-8")))
    limits = limit_set(name)
    assert set(limits.quantities) <= known
    assert {row.quantity for row in limits.absent} <= known


def test_every_condition_and_unit_suffix_is_in_the_glossary():
    known = set(re.findall(r"`([a-z0-9_]+)`", (DOCS / "glossary.md").read_text(encoding="utf-8")))
    assert set(CONDITIONS) <= known
    assert set(FACTORS) <= known


def test_the_page_opens_with_its_caution():
    head = limits_page().split("## ")[0]
    assert "authorised persons decide" in head
    assert "never" in head
    assert "clearance to run" in head
