"""Weibull fits to lives of which many had not ended, against printed results."""

from math import log

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from forecasting.weibull import Weibull, WeibullFit, fit
from forecasting.weibull_range import weibull_range

# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: ten failures (hours) of twenty
# units, the others still good at 500 h. Printed there: scale 606.5280, shape 1.7208, AIC 154.27,
# mean 540.737, standard deviation 323.806; lognormal AIC 154.39. The minus sign of the
# log-likelihood is lost in the web text.
NIST_FAILURES = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
NIST_LIVES = NIST_FAILURES + [500] * 10
NIST_FAILED = [True] * 10 + [False] * 10

# Abernethy et al. (1983), bearing cages, as in Meeker and Escobar (1998), Statistical Methods for
# Reliability Data, table C.5, p. 633, and example 8.16, p. 193: 6 failures among 1703 cages.
# Printed there: shape 2.035, scale 11792 h, B10 3903 h with 95 % likelihood interval 2093 to 22144.
CAGE_FAILURES = [230, 334, 423, 990, 1009, 1510]
CAGE_RUNNING = {
    50: 288, 150: 148, 250: 124, 350: 111, 450: 106, 550: 99, 650: 110, 750: 114, 850: 119,
    950: 127, 1050: 123, 1150: 93, 1250: 47, 1350: 41, 1450: 27, 1550: 11, 1650: 6, 1850: 1,
    2050: 2,
}  # fmt: skip
CAGE_LIVES = CAGE_FAILURES + list(np.repeat(list(CAGE_RUNNING), list(CAGE_RUNNING.values())))
CAGE_FAILED = [True] * 6 + [False] * sum(CAGE_RUNNING.values())


@pytest.fixture(scope="module")
def nist() -> WeibullFit:
    return fit(NIST_LIVES, NIST_FAILED)


@pytest.fixture(scope="module")
def cages() -> WeibullFit:
    return fit(CAGE_LIVES, CAGE_FAILED)


def test_units_still_good_at_the_end_count_as_censored(nist: WeibullFit) -> None:
    assert (nist.failures, nist.censored) == (10, 10)
    assert nist.weibull.scale == pytest.approx(606.528, abs=0.01)
    assert nist.weibull.shape == pytest.approx(1.7208, abs=0.0002)
    assert nist.weibull.mean == pytest.approx(540.737, abs=0.01)
    assert nist.weibull.sd == pytest.approx(323.806, abs=0.01)
    assert nist.log_likelihood == pytest.approx(-75.135, abs=0.001)
    assert nist.aic == pytest.approx(154.27, abs=0.01)


def test_weibull_fits_slightly_better_than_the_printed_lognormal(nist: WeibullFit) -> None:
    assert nist.aic < 154.39


@pytest.mark.parametrize(
    ("life", "failed"),
    [(NIST_FAILURES, [True] * 10), (NIST_LIVES, [True] * 20)],
    ids=["good units dropped", "good units taken as failed"],
)
def test_censoring_ignored_gives_a_far_shorter_life(
    life: list[int], failed: list[bool], nist: WeibullFit
) -> None:
    assert fit(life, failed).weibull.scale < 0.8 * nist.weibull.scale


def test_six_failures_among_1703_cages(cages: WeibullFit) -> None:
    assert (cages.failures, cages.censored) == (6, 1697)
    assert cages.weibull.shape == pytest.approx(2.035, abs=0.001)
    assert cages.weibull.scale == pytest.approx(11792, abs=5)
    assert cages.weibull.b10 == pytest.approx(3903, abs=2)
    # R 4.2.2, survival 3.5-3, survreg
    assert cages.log_likelihood == pytest.approx(-76.436896, abs=1e-5)


def test_printed_likelihood_interval_of_cage_b10_follows_from_the_fit(cages: WeibullFit) -> None:
    life, failed = np.array(CAGE_LIVES), np.array(CAGE_FAILED)

    def drop(b10: float) -> float:
        """Twice the loss of log-likelihood at this B10, less the 95 % point of chi square."""

        def negative(shape: float) -> float:
            rate = -log(0.9) / b10**shape
            density = np.log(rate * shape) + (shape - 1) * np.log(life[failed])
            return -(density.sum() - rate * (life**shape).sum())

        best = minimize_scalar(negative, bounds=(0.3, 8), method="bounded")
        return 2 * (cages.log_likelihood + best.fun) - 3.841459

    assert brentq(drop, 1500, 3900) == pytest.approx(2093, rel=0.002)
    assert brentq(drop, 3950, 60000) == pytest.approx(22144, rel=0.002)


def test_range_of_cage_b10_shows_how_little_six_failures_tell(cages: WeibullFit) -> None:
    # Ours is the conditional interval, wider upwards than the likelihood interval printed.
    low, high = weibull_range(CAGE_LIVES, CAGE_FAILED).life_interval(0.1, 0.95)
    assert low == pytest.approx(2093, rel=0.15)
    assert high > 22144


def test_likelihood_and_not_rank_regression_is_what_the_fit_reports() -> None:
    # Kececioglu's six lives (16 ... 120 h), used in many tutorials: likelihood 1.933 / 73.526,
    # rank regression 1.43 / 76.3 (values from memory; likelihood checked with R survreg).
    weibull = fit([16, 34, 53, 75, 93, 120], [True] * 6).weibull
    assert weibull.shape == pytest.approx(1.9327, abs=0.0005)
    assert weibull.scale == pytest.approx(73.526, abs=0.01)


def test_thirty_one_units_of_the_kaplan_meier_example() -> None:
    # Failures and lives of test_kaplan_meier.UNITS_*; fit by R 4.2.2, survival 3.5-3, survreg.
    failures = [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900]
    good = [
        3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000,
        67000, 69630, 77350, 78470, 91680, 105700, 106300, 150400,
    ]  # fmt: skip
    weibull = fit(failures + good, [True] * 10 + [False] * 21).weibull
    assert weibull.shape == pytest.approx(1.15443, abs=1e-5)
    assert weibull.scale == pytest.approx(134651, abs=1)


def test_used_cutter_and_the_next_job() -> None:
    # R(t|T) = R(T + t) / R(T), printed in public reliability handbooks; numbers by scipy.
    weibull = Weibull(shape=1.7208, scale=606.528)
    assert weibull.chance_of_surviving(used=300, job=100) == pytest.approx(0.82634, abs=1e-4)
    assert weibull.chance_of_surviving(used=0, job=100) == pytest.approx(0.95603, abs=1e-4)
    assert weibull.b10 == pytest.approx(164.02, abs=0.05)
    assert weibull.median == pytest.approx(490.17, abs=0.05)
    assert weibull.mean_residual(used=300) == pytest.approx(364.7, abs=0.05)
