"""``list``: everything that can be named, each with its status."""

from tapertread.cli.list_ import KEYS
from tapertread.limits import limit_set_names
from tapertread.shapes import design_names
from tapertread.sources import STATUSES, all_sources


def test_designs_come_with_status_and_those_not_found_with_the_reason(call) -> None:
    data = call("list", "designs", "--json").data
    assert set(data) <= set(KEYS)
    assert [one["name"] for one in data["designs"] if one["buildable"]] == design_names()
    for one in data["designs"]:
        assert one["status"]
        assert one["buildable"] or one["reason"]
    assert any(one["label"].endswith("(doubtful)") for one in data["designs"])


def test_limits_come_with_edition_source_status_and_caution(call) -> None:
    data = call("list", "limits", "--json").data
    assert [one["name"] for one in data["limits"]] == list(limit_set_names())
    for limits in data["limits"]:
        assert limits["caution"]
        for limit in limits["limits"]:
            assert limit["edition"]
            assert limit["source"] in all_sources()
            assert limit["status"]


def test_sources_come_with_how_they_were_come_by(call) -> None:
    data = call("list", "sources", "--json").data
    assert [one["key"] for one in data["sources"]] == list(all_sources())
    assert {one["status"] for one in data["sources"]} <= set(STATUSES)


def test_text_names_all_of_them_too(call) -> None:
    designs, sources = call("list", "designs").out, call("list", "sources").out
    assert all(name in designs for name in design_names())
    assert all(f"[{key}]" in sources for key in all_sources())
    assert "eu-tread-hollow" in call("list", "limits").out
