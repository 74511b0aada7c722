"""Chances of sums of counts and what falls short of a level, against libraries and textbooks."""

import numpy as np
import pytest
from scipy import stats

from forecasting.count_demand import CountBeliefs
from forecasting.count_sums import expected_short, sum_tables

ALMOST_POISSON = 1 + 1e-6


def alike(mean, dispersion):
    """One kind of count, believed in for certain."""
    return CountBeliefs(np.ones((1, 1)), np.array([[float(mean)]]), np.array([dispersion]))


def table_of(mean, dispersion, periods=1, chance=1 - 1e-9):
    (table,) = sum_tables(alike(mean, dispersion), [periods], chance)
    return table.step * np.arange(table.within[0].shape[1]), table.within[0][0], table.step


@pytest.mark.parametrize("mean", [0.02, 1.5, 6, 90, 700, 20_000])
def test_sums_of_random_counts_are_poisson_as_scipy_has_it(mean):
    values, within, _ = table_of(mean, ALMOST_POISSON, periods=2)
    assert within == pytest.approx(stats.poisson.cdf(values, 2 * mean), abs=1e-5)


@pytest.mark.parametrize("dispersion", [1.05, 2.3, 15.0])
@pytest.mark.parametrize("mean", [0.02, 1.5, 90, 2000])
def test_sums_of_clumped_counts_are_negative_binomial_as_scipy_has_it(mean, dispersion):
    values, within, _ = table_of(mean, dispersion, periods=3)
    size = 3 * mean / (dispersion - 1)
    assert within == pytest.approx(stats.nbinom.cdf(values, size, 1 / dispersion), abs=1e-9)


def test_newsvendor_with_poisson_demand():
    # Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (2019), Example 4.7 with no order
    # cost: mean 6, overage 1, underage 4; S = 8, cost 3.57010695. Read in the first author's open
    # documentation.
    _, within, step = table_of(6, ALMOST_POISSON)
    short = expected_short(within[None, :], np.array([[6.0]]), step)[0]
    over = np.arange(len(short)) - 6 + short
    cost = over + 4 * short
    assert np.argmin(cost) == 8
    assert cost[8] == pytest.approx(3.57010695, abs=1e-4)


@pytest.mark.parametrize(
    ("z", "loss"), [(0, 0.3989), (0.5, 0.1978), (1, 0.0833), (1.5, 0.0293), (2, 0.0085)]
)
def test_many_counts_fall_short_as_the_unit_normal_loss_table_says(z, loss):
    # Standard table of the unit normal loss function, from memory.
    mean, spread = 20_000.0, 400.0
    _, within, step = table_of(mean, spread**2 / mean)
    short = expected_short(within[None, :], np.array([[mean]]), step)[0]
    levels = step * np.arange(len(short))
    found = np.interp(mean + z * spread, levels, short) / spread
    assert found == pytest.approx(loss, abs=0.003)
