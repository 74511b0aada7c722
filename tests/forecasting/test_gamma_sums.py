import numpy as np
import pytest
from scipy.stats import gamma

from forecasting.gamma_sums import dispersion_of, gamma_quantiles, quantile_losses


@pytest.mark.parametrize("chance", [0.5, 0.8, 0.95, 0.99])
def test_quantiles_are_those_of_an_independent_library(chance):
    mean, dispersion = np.meshgrid([0.02, 0.4, 3.0, 50.0, 4e5], [0.05, 1.0, 7.0, 260.0])
    exact = gamma.ppf(chance, mean / dispersion, scale=dispersion)
    assert gamma_quantiles(mean, dispersion, chance) == pytest.approx(exact, rel=2e-4, abs=1e-6)


def test_no_demand_is_expected_to_stay_none():
    assert gamma_quantiles(np.zeros(2), np.array([0.0, 3.0]), 0.99).tolist() == [0, 0]


def test_dispersion_is_variance_over_mean_of_the_known_periods():
    qty = np.array([[2.0, 4.0, np.nan, 6.0], [0, 0, 0, 0], [np.nan] * 4])
    assert dispersion_of(qty).tolist() == [1, 0, 0]


def test_series_that_never_varied_is_taken_to_vary_by_a_tenth():
    assert dispersion_of(np.full((1, 5), 20.0)) == pytest.approx(0.01 * 20)


def test_unit_of_the_quantity_does_not_matter_to_what_is_lost():
    actual, mean, spread = (
        np.array([9.0, 0.0]),
        np.array([[6.0, 8.0], [2.0, 1.0]]),
        np.array([3.0, 5.0]),
    )
    pieces = np.array([False, False])
    metres = quantile_losses(actual, mean, spread, pieces, (0.5, 0.95))
    millimetres = quantile_losses(1000 * actual, 1000 * mean, 1000 * spread, pieces, (0.5, 0.95))
    assert millimetres == pytest.approx(1000 * metres)


def test_quantiles_of_counts_are_whole_before_they_are_judged():
    arguments = np.array([4.0]), np.array([[3.3]]), np.array([1.0])
    median = np.ceil(gamma_quantiles(np.array(3.3), np.array(1.0), 0.5))
    assert quantile_losses(*arguments, np.array([True]), (0.5,)) == pytest.approx(
        0.5 * abs(4 - median)
    )
