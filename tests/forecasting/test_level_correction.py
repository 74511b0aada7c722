import numpy as np
import pytest

from forecasting.count_demand import learn_counts, learn_habits
from forecasting.level_correction import Seen, corrected, learn_correction

RNG = np.random.default_rng(17)


def seen(mean, since=0.0):
    mean = np.asarray(mean, dtype=float)
    return Seen(mean, np.repeat(mean[:, None], 3, axis=1), np.full(len(mean), since))


def learned(past, factors, periods=3):
    sums = [
        RNG.poisson(one.mean * periods * factor) * 1.0
        for one, factor in zip(past, factors, strict=True)
    ]
    return learn_correction(past, sums, periods, [1.0] * len(past), 2.0)


def test_levels_that_were_always_half_too_high_are_lowered():
    mean = RNG.gamma(2, 1, 4000)
    coefficients = learned([seen(mean)], [2 / 3])
    assert corrected(seen(mean), coefficients, 2.0).mean() == pytest.approx(2 / 3, rel=0.03)


def test_quiet_items_are_corrected_apart_from_busy_ones():
    mean = RNG.gamma(2, 1, 4000)
    coefficients = learned([seen(mean), seen(mean, since=12.0)], [1.0, 0.25])
    busy, quiet = (corrected(seen(mean, since), coefficients, 2.0).mean() for since in (0.0, 12.0))
    assert busy == pytest.approx(1.0, abs=0.05)
    assert quiet == pytest.approx(0.25, abs=0.05)


def test_few_items_change_little():
    past = seen([1.0, 2.0, 3.0])
    assert corrected(past, learned([past], [0.1]), 2.0) == pytest.approx(np.ones(3), abs=0.3)


def test_periods_not_known_teach_nothing():
    past = seen([1.0, 2.0, 3.0])
    coefficients = learn_correction([past], [np.full(3, np.nan)], 3, [1.0], 2.0)
    assert corrected(past, coefficients, 2.0) == pytest.approx(np.ones(3))


def test_correction_stays_within_what_was_met():
    mean = RNG.gamma(2, 1, 4000)
    coefficients = learned([seen(mean)], [0.0])
    factor = corrected(seen([1e-9, 1.0, 1e9]), coefficients, 2.0)
    assert (factor >= np.exp(-3.001)).all()
    assert (factor <= np.exp(3.001)).all()


def test_demand_that_ends_all_over_the_shop_is_expected_to_end():
    counts = RNG.poisson(3, (300, 48)).astype(float)
    counts[np.arange(48) >= RNG.integers(10, 90, (300, 1))] = 0.0
    with_correction = learn_habits(counts)
    beliefs = learn_counts(counts, with_correction)
    mean = (beliefs.chance * beliefs.level).sum(axis=1)
    quiet = (counts[:, -6:] == 0).all(axis=1)
    assert mean[quiet].max() < 3 / 10
    assert mean[~quiet].mean() == pytest.approx(3, rel=0.15)
