import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from forecasting.errors import OutOfRange
from forecasting.replacement_age import weibull_cost_curve, weibull_replacement_age
from forecasting.weibull import Weibull


@settings(max_examples=30, deadline=None)
@given(st.floats(1.5, 6), st.floats(10, 1000), st.floats(3, 50))
def test_age_agrees_with_quadrature_and_an_independent_minimum(
    shape: float, scale: float, ratio: float
) -> None:
    weibull = Weibull(shape, scale)

    def rate(age: float) -> float:
        survival = weibull.survival(age)
        return (survival + ratio * (1 - survival)) / quad(weibull.survival, 0, age)[0]

    best = weibull_replacement_age(weibull, 1, ratio)
    lowest = minimize_scalar(rate, bounds=(scale / 1000, 3 * scale), method="bounded").fun
    on_failure = ratio / weibull.mean
    if best.age is None:
        assert lowest > 0.989 * on_failure
    else:
        assert rate(best.age) == pytest.approx(lowest, rel=1e-4)
        assert best.cost_rate == pytest.approx(lowest, rel=1e-4)
        assert best.cost_rate_on_failure == pytest.approx(on_failure, rel=1e-3)


def test_dearer_failure_means_an_earlier_change() -> None:
    ages = [weibull_replacement_age(Weibull(2.5, 100), 1, cost).age for cost in (3, 5, 10, 100)]
    assert ages == sorted(ages, reverse=True)


def test_saving_too_small_to_matter_is_not_advised() -> None:
    assert weibull_replacement_age(Weibull(1.05, 100), 1, 5).age is None


@pytest.mark.parametrize(("planned", "failure"), [(0, 5), (1, -5), (1, np.nan)])
def test_cost_that_is_no_amount_is_refused(planned: float, failure: float) -> None:
    with pytest.raises(OutOfRange, match="must be a number above 0"):
        weibull_replacement_age(Weibull(2, 100), planned, failure)


def test_cost_curve_is_lowest_at_the_best_age_and_ends_near_the_cost_of_waiting():
    weibull = Weibull(shape=3.0, scale=100.0)
    best = weibull_replacement_age(weibull, 1.0, 10.0)
    ages, rates = weibull_cost_curve(weibull, 1.0, 10.0, points=400)
    assert ages[np.argmin(rates)] == pytest.approx(best.age, abs=1.0)
    assert rates.min() == pytest.approx(best.cost_rate, rel=1e-4)
    assert rates[-1] == pytest.approx(best.cost_rate_on_failure, rel=0.02)
