"""Whether lives of unlike work are one kind of life."""

import warnings

import numpy as np
import pytest
from scipy.stats import chi2

from forecasting.errors import BadInput
from forecasting.life_groups import chi_squared_beyond, split_lives
from forecasting.tool_life import LifeRecord


def lives(shape: float, scale: float, count: int, seed: int) -> list[LifeRecord]:
    rng = np.random.default_rng(seed)
    drawn, taken_out = scale * rng.weibull(shape, count), rng.uniform(0.3, 3, count) * scale
    return [
        LifeRecord(float(min(a, b)), bool(a <= b)) for a, b in zip(drawn, taken_out, strict=True)
    ]


# Independent implementation: the tail of scipy's chi-squared distribution.
@pytest.mark.parametrize(("value", "pairs"), [(0.0, 1), (5.99, 1), (3.3, 2), (30.0, 5)])
def test_tail_of_chi_squared_is_that_of_scipy(value, pairs):
    assert chi_squared_beyond(value, pairs) == pytest.approx(chi2.sf(value, 2 * pairs), rel=1e-12)


# Independent implementation: log likelihoods of three separate fits and a common one by lifelines,
# the chance by scipy.
def test_chance_is_that_of_an_independent_library():
    from lifelines import WeibullFitter

    groups = {"annealed": lives(2.5, 180, 14, 1), "hard": lives(2.2, 130, 12, 2)}
    groups["brass"] = lives(2.0, 170, 15, 3)

    def log_likelihood(records: list[LifeRecord]) -> float:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            fitted = WeibullFitter().fit([r.life for r in records], [r.failed for r in records])
        return fitted.log_likelihood_

    apart = sum(log_likelihood(records) for records in groups.values())
    pooled = log_likelihood([record for records in groups.values() for record in records])
    expected = chi2.sf(2 * (apart - pooled), 4)
    assert split_lives(groups).chance == pytest.approx(expected, rel=1e-4)


def test_annealed_and_hardened_bars_are_told_apart():
    split = split_lives({"annealed": lives(3, 200, 20, 4), "hard": lives(3, 60, 20, 5)})
    assert split.differ
    means = [group.fit.weibull.mean for group in split.groups]
    assert means[0] > 2 * means[1]


def test_one_kind_of_life_is_rarely_told_apart():
    told = [
        split_lives({"a": lives(2, 100, 12, seed), "b": lives(2, 100, 12, seed + 500)}).differ
        for seed in range(200)
    ]
    # 1 in 20 is asked for; the chi-squared tail is an approximation for so few lives.
    assert 0.02 <= np.mean(told) <= 0.12


def test_too_few_failures_are_shown_but_not_judged():
    split = split_lives({"annealed": lives(3, 200, 20, 4), "hard": lives(3, 60, 20, 5)[:4]})
    assert split.chance is None
    assert not split.differ
    assert [group.has_enough for group in split.groups] == [True, False]


def test_group_without_a_failure_has_no_fit():
    split = split_lives({"new": [LifeRecord(40.0, False)], "reground": [LifeRecord(30.0, True)]})
    assert [group.fit for group in split.groups] == [None, None]
    assert [(group.failures, group.censored) for group in split.groups] == [(0, 1), (1, 0)]


def test_impossible_life_is_refused_with_its_group():
    with pytest.raises(BadInput, match="hard: life must be a number of 0 or more"):
        split_lives({"hard": [LifeRecord(-1.0, True)]})
