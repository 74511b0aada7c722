"""Age replacement against printed answers."""

import numpy as np
import pytest
from numpy.typing import NDArray

from forecasting.replacement_age import best_replacement_age, cost_rate, weibull_replacement_age
from forecasting.weibull import Weibull


def uniform_to_40000(life: NDArray[np.float64]) -> NDArray[np.float64]:
    return 1 - life / 40000


def test_wearing_part_with_failure_five_times_as_dear() -> None:
    # Documentation of the open-source Python library "reliability", optimal replacement time:
    # printed 493.19 and 0.0035, from a grid. The continuous optimum by scipy: 493.047, 0.00346204.
    best = weibull_replacement_age(Weibull(shape=2.5, scale=1000), 1, 5)
    assert best.age == pytest.approx(493.05, abs=0.5)
    assert best.cost_rate == pytest.approx(0.003462, abs=1e-6)
    assert best.saving == pytest.approx(1 - 0.614, abs=0.001)


# Jardine and Tsang, Maintenance, Replacement and Reliability, 2nd edition, solutions manual,
# chapter 2, problem 2: life uniform up to 40 000 km, planned 100, failure 200; cost per km.
@pytest.mark.parametrize(
    ("age", "printed"), [(10000, 0.0143), (20000, 0.0100), (30000, 0.0093), (40000, 0.0100)]
)
def test_cost_per_km_at_the_ages_tried(age: int, printed: float) -> None:
    ages = np.linspace(age / 100, age, 100)
    assert cost_rate(uniform_to_40000, ages, 100, 200)[-1] == pytest.approx(printed, abs=5e-5)


def test_best_age_lies_between_the_ages_tried() -> None:
    # Closed form 40000 (sqrt(3) - 1) = 29282.03, derived here.
    best = best_replacement_age(uniform_to_40000, 40000, 100, 200)
    assert best.age == pytest.approx(29282.03, abs=1)
    assert best.cost_rate == pytest.approx(0.0093301, abs=1e-7)


# Barlow and Proschan (1965), Mathematical Theory of Reliability, chapter 4: from memory.
@pytest.mark.parametrize(
    ("shape", "scale", "planned", "failure"),
    [(1.0, 100, 1, 5), (0.8, 100, 1, 5), (2.5, 1000, 5, 5)],
    ids=["chance breakage", "early breakage", "failure no dearer"],
)
def test_planned_change_never_pays(
    shape: float, scale: float, planned: float, failure: float
) -> None:
    best = weibull_replacement_age(Weibull(shape, scale), planned, failure)
    assert best.age is None
    assert best.saving == 0
    assert best.cost_rate == pytest.approx(failure / Weibull(shape, scale).mean)
