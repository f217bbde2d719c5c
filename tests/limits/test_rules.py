"""Limit set files: units of the source become inside units, levels are set ahead of limits."""

from textwrap import dedent

import pytest

from tapertread.limits import read_limit_set

HEAD = """
name = "own"
title = "Own limits"
caution = "Invented for this test."
"""

LIMIT = """
[[limit]]
id = "rim"
quantity = "rim_thickness_mm"
sense = "min"
value = 1.0
unit = "in"
edition = "Own rule 7"
clause = "3"
source = "trade-practice"
status = "common practice, no source"
when = { diameter_mm = { over = 700.0 } }
"""


@pytest.fixture
def own(tmp_path):
    def read(*parts):
        path = tmp_path / "own.toml"
        path.write_text(dedent("\n".join((HEAD, *parts))), encoding="utf-8")
        return read_limit_set(path)

    return read


def test_inches_become_millimetres(own):
    limits = own(LIMIT)
    assert limits.limit("rim").value == pytest.approx(25.4)
    assert limits.limit("rim").unit == "mm"


def test_a_margin_is_in_the_unit_of_its_limit(own):
    limits = own(LIMIT, '[[level]]\nlevel = "watch"\nof = ["rim"]\nmargin = 0.25')
    watch = limits.limit("rim-watch")
    assert watch.value == pytest.approx(31.75)
    assert watch.level == "watch"
    assert watch.toward == limits.limit("rim")


def test_a_share_is_of_the_way_from_new_to_the_limit(own):
    limits = own(LIMIT, '[[level]]\nlevel = "act"\nof = ["rim"]\nshare = 0.9\nnew = 2.0')
    assert limits.limit("rim-act").value == pytest.approx(1.1 * 25.4)


def test_a_level_applies_under_the_conditions_of_its_limit(own):
    limits = own(LIMIT, '[[level]]\nlevel = "watch"\nof = ["rim"]\nmargin = 0.25')
    assert len(limits.for_quantity("rim_thickness_mm", diameter_mm=800.0)) == 2
    assert len(limits.for_quantity("rim_thickness_mm", diameter_mm=700.0)) == 0
    assert limits.for_quantity("rim_thickness_mm").needs == ("diameter_mm",)


def test_reaching_a_house_level_counts(own):
    limits = own(LIMIT, '[[level]]\nlevel = "watch"\nof = ["rim"]\nmargin = 0.25')
    assert not limits.limit("rim-watch").allows(31.75)
    assert limits.limit("rim").allows(25.4)


def test_a_level_of_the_user_is_not_called_one_of_this_tool(own):
    row = """
    [[level]]
    level = "watch"
    of = ["rim"]
    margin = 0.25
    edition = "Own rule 8"
    source = "owner-rule"
    status = "stated by the user"
    """
    watch = own(LIMIT, dedent(row)).limit("rim-watch")
    assert (watch.edition, watch.status) == ("Own rule 8", "stated by the user")


def test_a_set_without_limits_may_say_why(own):
    limits = own('[[absent]]\nquantity = "wear_45_mm"\nwhy = "nobody measures it here"')
    assert limits.for_quantity("wear_45_mm").why_not == "nobody measures it here"
