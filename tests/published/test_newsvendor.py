"""The one order that can't be followed by another, against published examples.

L. V. Snyder & Z.-J. M. Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed., Examples 4.1,
4.3 and 4.7; numbers read in the first author's open documentation.
"""

from statistics import NormalDist

import pytest
from scipy.stats import poisson

from forecasting.order_quantity import newsvendor_cost, newsvendor_quantity

PAPERS = NormalDist(50, 8).inv_cdf
COSTS = {"short": 0.7, "left": 0.18}


def test_example_4_3_stocks_the_printed_quantity():
    assert newsvendor_quantity(PAPERS, **COSTS) == pytest.approx(56.60395593, abs=1e-6)


@pytest.mark.parametrize(
    ("quantity", "cost"), [(56.60395593, 1.99760519), (40, 7.35613155), (60, 2.15613155)]
)
def test_example_4_3_loses_what_is_printed(quantity, cost):
    # Taken over 200 quantiles: exact to a hundredth.
    assert newsvendor_cost(quantity, PAPERS, **COSTS) == pytest.approx(cost, abs=0.01)


def test_example_4_7_stocks_whole_units_of_poisson_use():
    use = poisson(6).ppf
    quantity = newsvendor_quantity(use, short=4, left=1)
    assert quantity == 8
    assert newsvendor_cost(quantity, use, short=4, left=1) == pytest.approx(3.57010695, abs=0.02)
