"""Items ranked by yearly value give the published classes; variation agrees with SciPy's."""

import numpy as np
import pytest
from scipy import stats

from forecasting.stock_classes import value_ranks, variation

# Heizer & Render, Operations Management, ch. 12, Example 1 (inputs and shares read, at holooly.com,
# Q 12.EX.1): ten chips, units a year and unit cost; A 72 %, B 23 %, C 5 % of $232,057.
CHIPS = {
    "10286": 1000 * 90,
    "11526": 500 * 154,
    "12760": 1550 * 17,
    "10867": 350 * 42.86,
    "10500": 1000 * 12.5,
    "12572": 600 * 14.17,
    "14075": 2000 * 0.6,
    "01036": 100 * 8.5,
    "01307": 1200 * 0.42,
    "10572": 250 * 0.6,
}
# The book draws its lines by eye; with A ending at 70 % and B at 95 % they come out the same.
BOOKS_CUTS = (0.70, 0.95)


@pytest.fixture
def ranks():
    return value_ranks(CHIPS, BOOKS_CUTS)


def test_dearest_chip_and_total_of_the_book(ranks):
    assert (ranks[0].item, ranks[0].value) == ("10286", 90_000)
    assert sum(rank.value for rank in ranks) == pytest.approx(232_057, abs=0.6)


@pytest.mark.parametrize(
    ("letter", "items", "percent"),
    [
        ("A", ["10286", "11526"], 72),
        ("B", ["12760", "10867", "10500"], 23),
        ("C", ["12572", "14075", "01036", "01307", "10572"], 5),
    ],
)
def test_class_holds_the_chips_and_the_share_of_the_book(ranks, letter, items, percent):
    found = [rank for rank in ranks if rank.letter == letter]
    assert [rank.item for rank in found] == items
    assert 100 * sum(rank.share for rank in found) == pytest.approx(percent, abs=0.6)


@pytest.mark.parametrize("seed", range(5))
def test_variation_is_that_of_scipy(seed):
    months = np.random.default_rng(seed).poisson(3, 12).tolist()
    assert variation(months) == pytest.approx(stats.variation(months, ddof=1))
