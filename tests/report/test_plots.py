"""The toolkit: labels that keep clear, gaps that stay open, shapes that differ."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from tapertread.limits.verdicts import Word
from tapertread.report import plots
from tapertread.report.scales import Box, Panel, fixed_axis
from tapertread.report.svg import text_width

BOX = Box(x=0, y=0, width=400, height=200)
PANEL = Panel(box=BOX, along=fixed_axis("x", 0, high=10), up=fixed_axis("y", 0, high=10))


def parsed(markup):
    return ET.fromstring(f"<g>{markup}</g>")


def text_boxes(markup):
    """Where words stand, read back from the markup alone."""
    boxes = []
    for element in parsed(markup).iter("text"):
        size, width = float(element.attrib["font-size"]), text_width(element.text, 11.0)
        x = float(element.attrib["x"])
        left = {"end": x - width, "middle": x - width / 2}.get(element.attrib.get("text-anchor"), x)
        boxes.append(
            Box(x=left, y=float(element.attrib["y"]) - 0.8 * size, width=width, height=size)
        )
    return boxes


def test_labels_keep_clear_of_one_another_and_of_the_edge():
    notes = [plots.Note(x=200 + 3 * k, y=100 + k, words=f"note {k}") for k in range(6)]
    notes.append(plots.Note(x=399, y=2, words="at the very corner"))
    boxes = text_boxes(plots.labels(notes, within=BOX))
    assert len(boxes) == 7
    for k, a in enumerate(boxes):
        assert a.x >= 0
        assert a.right <= 400
        assert not any(a.meets(b) for b in boxes[k + 1 :])


def test_words_are_never_lost_where_nothing_fits():
    tiny = Box(x=0, y=0, width=5, height=5)
    markup = plots.labels([plots.Note(x=2, y=2, words="kept all the same")], within=tiny)
    assert "kept all the same" in markup


def test_labels_avoid_what_is_already_there():
    taken = Box(x=200, y=80, width=120, height=20)
    (box,) = text_boxes(
        plots.labels([plots.Note(x=200, y=100, words="hello")], within=BOX, avoid=[taken])
    )
    assert not box.meets(taken)


def test_missing_points_are_not_drawn():
    markup = plots.points(PANEL, [1, np.nan, 3], [1, 2, np.nan], shape="disc", role="wheel")
    assert markup.count("M") == 1
    assert "nan" not in markup.lower()


def test_missing_bars_are_not_drawn():
    markup = plots.bars(PANEL, [0, 1, 2], [1, 2, 3], values=[5, np.nan, 0], role="soft")
    assert len(re.findall(r"M[\d.]", markup)) == 1


def test_a_band_is_split_where_values_are_missing():
    x = [0, 1, 2, 3, 4]
    markup = plots.band(PANEL, x, [0, 0, np.nan, 0, 0], high=[1, 1, 1, 1, 1], role="soft")
    assert markup.count("z") == 2


def test_all_shapes_and_dashes_can_be_told_apart_without_colour():
    shapes = ["disc", "diamond", "square", "triangle", "left", "right", "cross"]
    drawn = {plots.markers([0], [0], shape=s, role="ink") for s in shapes}
    assert len(drawn) == len(shapes)
    dashes = ("solid", "dashed", "dotted", "long")
    lines = {plots.line(PANEL, [0, 9], [0, 9], role="ink", dash=d) for d in dashes}
    assert len(lines) == 4


def test_arrowheads_point_to_their_side():
    def outermost(shape):
        d = re.search(r'd="M0 0m([-\d.]+)', plots.markers([0], [0], shape=shape, role="ink"))
        return float(d.group(1))

    assert outermost("left") < 0 < outermost("right")


def test_levels_beyond_the_panel_are_left_out():
    assert plots.level(PANEL, 11.0, words="limit", role="out") == ""
    assert "limit" in plots.level(PANEL, 5.0, words="limit", role="out")
    assert plots.upright(PANEL, -1.0, role="out") == ""


def test_legend_wraps_within_its_width():
    keys = [plots.Key(words=f"a rather long entry {k}", role="ink", dash="solid") for k in range(5)]
    boxes = text_boxes(plots.legend(keys, x=0, y=10, width=420))
    assert max(b.right for b in boxes) <= 420
    assert len({b.y for b in boxes}) > 1


def test_verdict_legend_names_each_word_once_gravest_first():
    markup = plots.verdict_legend([Word.SOUND, Word.OUT, Word.SOUND], x=0, y=10)
    assert [e.text for e in parsed(markup).iter("text")] == ["out of limit", "sound"]


def test_dimension_line_carries_its_value():
    markup = plots.dimension((0, 10), (50, 10), words="28.00 mm")
    assert "28.00 mm" in markup


@pytest.mark.parametrize("stop", [(10.0, 0.0), (0.0, 10.0), (-7.0, 7.0)])
def test_an_arrow_ends_where_it_should(stop):
    head = re.findall(r'd="M([-\d.]+) ([-\d.]+)L', plots.arrow((0, 0), stop, role="contact"))[-1]
    assert np.allclose(np.array(head, float), stop, atol=0.01)


def test_steps_hold_their_value_between_edges():
    markup = plots.steps(PANEL, [0, 4, 10], [2, 6], role="ink")
    d = re.search(r'd="(M[^"]+)"', markup).group(1)
    head, tail = d[1:].split("l")
    at = np.vstack((np.array(head.split(), float), np.array(tail.split(), float).reshape(-1, 2)))
    places = np.cumsum(at, axis=0)
    assert np.allclose(places, [[0, 160], [160, 160], [160, 80], [400, 80]])
