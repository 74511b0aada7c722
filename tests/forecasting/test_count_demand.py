import numpy as np
import pytest
from scipy import stats

from forecasting.count_demand import DISPERSION, SMOOTHING, learn_counts, learn_habits

RNG = np.random.default_rng(11)


def test_one_item_is_weighed_as_a_slow_loop_over_weeks_does():
    # Independent second implementation: scipy's negative binomial, one week after the other.
    counts = RNG.poisson(2, (1, 30)).astype(float)
    beliefs = learn_counts(counts)
    likelihood = []
    for smoothing in SMOOTHING:
        for dispersion in DISPERSION:
            level, chance = (counts[0, :6].sum() + 2 * counts.mean()) / 8, 1.0
            for count in counts[0]:
                chance *= stats.nbinom.pmf(count, level / (dispersion - 1), 1 / dispersion)
                level += smoothing * (count - level)
            likelihood.append(chance)
    best = np.argmax(likelihood)
    ratio = beliefs.chance[0] / beliefs.chance[0, best]
    assert np.argmax(ratio) == best
    prior = np.full(len(likelihood), 1 / len(likelihood))
    for _ in range(30):
        posterior = np.array(likelihood) * prior
        posterior /= posterior.sum()
        prior = (posterior + 1 / len(likelihood)) / 2
    assert beliefs.chance[0] == pytest.approx(posterior, rel=1e-6)


def expected_dispersion(beliefs):
    return beliefs.chance @ beliefs.dispersion


def test_random_counts_are_believed_nearly_poisson():
    beliefs = learn_counts(RNG.poisson(3, (20, 100)).astype(float))
    assert (expected_dispersion(beliefs) < 1.5).all()


def test_clumped_counts_are_believed_clumped():
    beliefs = learn_counts(RNG.negative_binomial(0.5, 0.2, (20, 100)).astype(float))
    assert (expected_dispersion(beliefs) > 3).all()


def test_item_that_became_busy_has_a_level_above_its_mean():
    counts = np.hstack([RNG.poisson(1, (5, 60)), RNG.poisson(6, (5, 30))]).astype(float)
    beliefs = learn_counts(counts)
    level = (beliefs.chance * beliefs.level).sum(axis=1)
    assert (level > 1.4 * counts.mean(axis=1)).all()


def test_new_item_takes_the_habits_of_the_shop():
    clumped = RNG.negative_binomial(0.5, 0.2, (30, 80)).astype(float)
    new = np.zeros((1, 80))
    new[0, -1] = 2
    beliefs = learn_counts(np.vstack([clumped, new]))
    assert expected_dispersion(beliefs)[-1] > 2


def test_item_never_used_has_a_small_but_finite_level():
    beliefs = learn_counts(np.vstack([RNG.poisson(2, (5, 50)), np.zeros(50)]).astype(float))
    assert (beliefs.chance[-1] * beliefs.level[-1]).sum() < 0.2
    assert np.isfinite(beliefs.chance).all()


def test_items_begun_at_different_times_are_expected_at_their_own_level():
    began = np.repeat(np.arange(0, 50, 5), 30)[:, None]
    mean = np.tile([0.5, 4.0], 150)[:, None]
    counts = np.where(np.arange(60) < began, np.nan, RNG.poisson(mean, (300, 60)))
    beliefs = learn_counts(counts)
    level = (beliefs.chance * beliefs.level).sum(axis=1)
    assert level[::2].mean() == pytest.approx(0.5, rel=0.15)
    assert level[1::2].mean() == pytest.approx(4.0, rel=0.1)


def test_shop_of_a_few_periods_is_taken_as_it_is():
    habits = learn_habits(RNG.poisson(2, (9, 8)).astype(float))
    assert habits.rare is habits.steady
    assert habits.rare.correction is None


def test_habits_of_many_items_come_from_an_even_sample_of_them():
    counts = RNG.poisson(RNG.gamma(1, 1, (10_000, 1)), (10_000, 12)).astype(float)
    steady = (counts > 0).mean(axis=1) > 1 / 1.32
    habits = learn_habits(counts)
    for group, those in ((habits.rare, ~steady), (habits.steady, steady)):
        assert group.level == pytest.approx(counts[those].mean(), rel=0.1)
    again = learn_habits(counts[::2])
    assert (again.rare.level, again.steady.level) == (habits.rare.level, habits.steady.level)


def test_rare_items_are_foretold_alike_with_and_without_steady_ones_beside_them():
    rare = RNG.poisson(0.3, (80, 48)) * RNG.integers(1, 20, (80, 48)).astype(float)
    steady = RNG.poisson(40, (80, 48)).astype(float)
    alone, mixed = learn_counts(rare), learn_counts(np.concatenate([rare, steady]))
    np.testing.assert_allclose(mixed.level[:80], alone.level)
    np.testing.assert_allclose(mixed.chance[:80], alone.chance)


def test_a_few_steady_items_among_many_rare_ones_teach_with_them():
    counts = np.concatenate([RNG.poisson(0.3, (80, 30)), RNG.poisson(9, (5, 30))]).astype(float)
    habits = learn_habits(counts)
    assert habits.rare is habits.steady


def test_part_without_a_steady_item_is_judged_by_habits_of_both_kinds():
    rng = np.random.default_rng(3)
    rare, steady = rng.poisson(0.2, (400, 40)), rng.poisson(8, (400, 40))
    habits = learn_habits(np.vstack([rare, steady]).astype(float))
    assert habits.rare is not habits.steady
    few = rare[:5].astype(float)
    for alone in (few, few[:0]):
        assert learn_counts(alone, habits).level.shape[0] == len(alone)
