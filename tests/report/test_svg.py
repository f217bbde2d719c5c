"""Markup: escaped, short, well-formed, true to its points."""

import xml.etree.ElementTree as ET
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from shapely import LineString, Point

from tapertread.limits.verdicts import Word
from tapertread.report import svg


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1"), (-0.001, "0"), (12.345, "12.35"), (0.1, "0.1"), (-3.5, "-3.5"), (100.0, "100")],
)
def test_numbers_are_short(value, text):
    assert svg.number(value) == text


def test_text_and_attributes_are_escaped():
    nasty = "<script>\"alert('&')\"</script>"
    markup = svg.tag("g", svg.text(1, 2, words=nasty), data_name=nasty)
    parsed = ET.fromstring(markup)
    assert parsed.attrib["data-name"] == nasty
    assert parsed[0].text == nasty
    assert len(parsed) == 1


def test_document_names_and_describes_itself():
    markup = svg.document("Name & more", "What <is> seen", width=10, height=20, parts=["<g/>"])
    root = ET.fromstring(markup)
    ns = "{http://www.w3.org/2000/svg}"
    by_id = {e.attrib["id"]: e.text for e in root if "id" in e.attrib}
    names = [by_id[i] for i in root.attrib["aria-labelledby"].split()]
    assert root.attrib["role"] == "img"
    assert names == ["Name & more", "What <is> seen"]
    assert root[0].tag == f"{ns}title", "readers aloud want the title first"


def test_gaps_lift_the_pen():
    d = svg.polyline_d([0, 1, 2, 3, 4], [0, 5, np.nan, 5, 0])
    assert d.count("M") == 2
    assert "nan" not in d


def test_a_line_of_nothing_draws_nothing():
    assert svg.polyline_d([np.nan, np.nan], [0.0, 1.0]) == ""
    assert svg.path(svg.polyline_d([], []), stroke="ink") == ""


walks = hnp.arrays(
    np.float64, st.tuples(st.integers(2, 60), st.just(2)), elements=st.floats(-50, 50, width=32)
)


@given(walks)
def test_left_out_points_stay_within_tolerance(points):
    """The distance is judged by shapely, which knows nothing of how points were chosen."""
    x, y = points.T
    keep = svg.simplified(x, y, tolerance=0.5)
    assert keep[0] == 0
    assert keep[-1] == x.size - 1
    for first, last in pairwise(keep):
        straight = LineString([points[first], points[last]])
        for point in points[first : last + 1]:
            assert straight.distance(Point(point)) <= 0.5 + 1e-6


def test_relative_steps_do_not_add_up_their_rounding():
    x = np.cumsum(np.full(500, 0.333))
    y = 10.0 * np.sin(x)
    d = svg.polyline_d(x, y, tolerance=0.0)
    head, tail = d[1:].split("l")
    at = np.array(head.split(), float) + np.sum(
        np.array(tail.split(), float).reshape(-1, 2), axis=0
    )
    assert np.allclose(at, [x[-1], y[-1]], atol=0.06)


@pytest.mark.parametrize("word", list(Word))
def test_every_word_has_a_mark(word):
    ET.fromstring(svg.verdict_mark(0, 0, word=word))
