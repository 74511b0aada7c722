"""Use as batches really took it, between the bill and experience."""

import numpy as np
import pytest
from scipy import stats

from forecasting.learned_use import learned_use


def test_without_batches_the_bill_stands():
    assert learned_use([]) == learned_use([(0.0, 3.0)])
    assert learned_use([]).factor == 1


def test_one_wasteful_batch_moves_the_bill_a_third_of_the_way():
    # (20 + 2 x 10) / (10 + 2 x 10)
    assert learned_use([(10.0, 20.0)]).factor == pytest.approx(4 / 3)


def test_many_batches_outweigh_the_bill():
    learned = learned_use([(10.0, 12.0)] * 98)
    assert learned.factor == pytest.approx(1.196)
    assert learned.batches == 98


def test_large_batches_count_for_more_than_small_ones():
    assert (
        learned_use([(100.0, 120.0), (1.0, 1.0)]).factor
        > learned_use([(100.0, 100.0), (1.0, 1.2)]).factor
    )


def test_error_agrees_with_the_bootstrap_of_an_independent_library():
    random = np.random.default_rng(4)
    expected = random.uniform(5, 30, 60)
    taken = expected * 1.1 + random.normal(0, 2, 60)
    pairs = list(zip(expected.tolist(), taken.tolist(), strict=True))
    bootstrap = stats.bootstrap(
        (expected, taken),
        lambda e, t: t.sum() / e.sum(),
        paired=True,
        vectorized=False,
        n_resamples=2000,
        random_state=1,
    )
    assert learned_use(pairs).error == pytest.approx(bootstrap.standard_error, rel=0.08)


def test_error_needs_two_batches():
    assert learned_use([(10.0, 12.0)]).error == 0


def test_what_came_back_leaves_no_use_below_nothing():
    assert learned_use([(1.0, -50.0)]).factor == 0
