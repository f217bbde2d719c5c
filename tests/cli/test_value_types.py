"""Lengths with units, inclinations: what is meant, and what is refused as wrong usage."""

import click
import pytest

from tapertread.cli.value_types import FINITE, INCLINATION, LENGTH_MM


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1435", 1435.0),
        ("1435mm", 1435.0),
        ("1435 mm", 1435.0),
        ("56.5in", 1435.1),  # 56.5 x 25.4, the inch of 1959
        ("36 IN", 914.4),
        ("143.5cm", 1435.0),
        ("1.435m", 1435.0),
        ("1.435e3", 1435.0),
        (460, 460.0),
    ],
)
def test_a_length_is_in_mm_or_carries_its_unit(text: object, mm: float) -> None:
    assert LENGTH_MM.convert(text, None, None) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["", "wide", "nan", "inf", "1e999", "-1435", "0", "1.4.3", "4ft 8", "1435 km", "1,435"]
)
def test_what_is_no_length_above_zero_is_wrong_usage(text: str) -> None:
    with pytest.raises(click.BadParameter, match=r"no length|not above zero"):
        LENGTH_MM.convert(text, None, None)


@pytest.mark.parametrize(
    ("text", "slope"),
    [
        ("1:40", 1 / 40),
        ("1 : 20", 1 / 20),
        ("1:30.5", 1 / 30.5),
        ("0.025", 0.025),
        ("0", 0.0),
        ("upright", 0.0),
        ("-0.01", -0.01),
        (0.05, 0.05),
    ],
)
def test_an_inclination_is_a_ratio_a_slope_or_upright(text: object, slope: float) -> None:
    assert INCLINATION.convert(text, None, None) == pytest.approx(slope, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["40", "1:0", "1:2", "2:40", "1/40", "nan", "inf", "", "steep", "0.5", "-1:40"]
)
def test_what_is_no_inclination_says_how_to_write_one(text: str) -> None:
    with pytest.raises(click.BadParameter, match=r"1:40"):
        INCLINATION.convert(text, None, None)


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "", "much", "1e999"])
def test_what_is_no_finite_number_is_wrong_usage(text: str) -> None:
    with pytest.raises(click.BadParameter, match="no finite number"):
        FINITE.convert(text, None, None)


def test_a_finite_number_keeps_its_sign() -> None:
    assert FINITE.convert("-350", None, None) == -350.0
