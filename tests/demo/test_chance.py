"""Chance is fixed by seed and names, and is distributed as it says."""

import numpy as np
import pytest
from scipy import stats

from tapertread.demo.chance import Chance


def test_the_same_names_give_the_same_numbers() -> None:
    first = Chance.named(7, "wheel", "A").normal(50)
    again = Chance.named(7, "wheel", "A").normal(50)
    np.testing.assert_array_equal(first, again)


@pytest.mark.parametrize("names", [("wheel", "B"), ("wheel/A",), ("rail", "A")])
def test_other_names_or_seeds_give_other_numbers(names: tuple[str, ...]) -> None:
    here = Chance.named(7, "wheel", "A", "x").normal(50)
    assert not np.allclose(here, Chance.named(7, *names).normal(50))
    assert not np.allclose(here, Chance.named(8, "wheel", "A", "x").normal(50))


def test_normal_numbers_are_normal() -> None:
    """Kolmogorov-Smirnov against scipy's normal distribution; fixed seed, so never by luck."""
    numbers = Chance.named(1, "normal").normal(20_001)
    assert numbers.shape == (20_001,)
    assert stats.kstest(numbers, "norm").pvalue > 0.01


def test_uniform_numbers_stay_inside_and_are_even() -> None:
    numbers = Chance.named(1, "uniform").uniform(20_000)
    assert numbers.min() > 0.0
    assert numbers.max() < 1.0
    assert stats.kstest(numbers, "uniform").pvalue > 0.01


def test_an_order_holds_every_place_once() -> None:
    order = Chance.named(1, "order").order(200)
    assert sorted(order.tolist()) == list(range(200))
    assert order.tolist() != list(range(200))


def test_factors_lie_around_one() -> None:
    """The median of exp(s N) is 1 and its logarithm has deviation s."""
    logs = np.log([Chance.named(seed, "factor").factor(0.2) for seed in range(400)])
    assert abs(np.median(logs)) < 0.03
    assert np.std(logs) == pytest.approx(0.2, rel=0.1)
