"""The document model: whole, without markup, refusing what no writer could write."""

import dataclasses

import pytest

from tapertread.report import document as d
from tapertread.report.values import count_text, limit_text, quantity_text, status_text


def test_ragged_tables_are_refused():
    with pytest.raises(ValueError, match=r"row 1: 1 cells in 2 columns"):
        d.Table(
            caption="ragged",
            columns=(d.Column(title="a"), d.Column(title="b")),
            rows=(("1", "2"), ("3",)),
        )


def test_sections_with_one_name_are_refused():
    part = d.Section(name="same", title="Same", blocks=())
    with pytest.raises(ValueError, match="share a name"):
        d.Document(title="t", sections=(part, part))


def test_walking_finds_nested_blocks_in_reading_order():
    inner = d.Paragraph(text="inner")
    document = d.Document(
        title="t",
        opening=(d.Paragraph(text="first"),),
        sections=(
            d.Section(
                name="s",
                title="S",
                blocks=(d.Details(summary="more", blocks=(d.Columns(blocks=(inner,)),)),),
            ),
        ),
    )
    kinds = [block.kind for block in document.walk()]
    assert kinds == ["paragraph", "details", "columns", "paragraph"]


def test_blocks_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        d.Paragraph(text="a").text = "b"


@pytest.mark.parametrize(
    ("quantity", "system", "text"),
    [
        (d.Quantity(value=21.4, unit="mm", expanded=0.22), "metric", "21.40 ± 0.22 mm"),
        (d.Quantity(value=25.4, unit="mm"), "us", "1.000 in"),
        (d.Quantity(value=-1.5, unit="mm"), "metric", "−1.50 mm"),
        (d.Quantity(value=70.0, unit="deg"), "metric", "70.0°"),
        (d.Quantity(value=70.0, unit="deg", expanded=0.5), "metric", "70.0 ± 0.5 °"),
        (d.Quantity(value=0.178, unit=""), "us", "0.178"),
        (d.Quantity(value=160.9344, unit="kmh"), "us", "100 mph"),
        (d.Quantity(value=None, unit="mm"), "metric", "—"),
        (d.Quantity(value=float("nan"), unit="mm"), "metric", "—"),
        (d.Quantity(value=float("inf"), unit="mm"), "metric", "—"),
    ],
)
def test_quantities_as_text(quantity, system, text):
    """Inch and mile are exact by the international agreement of 1959."""
    assert quantity_text(quantity, system=system) == text


def test_bare_quantities_leave_the_unit_to_the_head():
    assert quantity_text(d.Quantity(value=2.0, unit="mm"), system="metric", bare=True) == "2.00"


def test_limits_say_whether_equality_is_allowed(limits):
    assert limit_text(limits[0], system="metric") == "at least 22.00 mm"
    assert limit_text(limits[1], system="metric") == "at most 2.00 mm"
    below = dataclasses.replace(limits[0], sense="above")
    assert limit_text(below, system="metric") == "more than 22.00 mm"


def test_a_status_without_words_stands_for_itself():
    assert status_text("MEMORY") == "from memory, check your copy"
    assert status_text("SOMETHING NEW") == "SOMETHING NEW"


def test_counting():
    assert count_text(1, "verdict") == "1 verdict"
    assert count_text(0, "verdict") == "0 verdicts"
    assert count_text(2, "limit or level", "limits and levels") == "2 limits and levels"
