import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays
from scipy import stats

from forecasting.count_demand import learn_counts, learn_habits
from forecasting.errors import OutOfRange
from forecasting.sum_quantiles import (
    expected_demand,
    expected_fill,
    level_for_fill,
    quantiles_of_sums,
)

CHANCES = (0.5, 0.8, 0.95, 0.99)


def shop(series=12, periods=40, seed=3):
    rng = np.random.default_rng(seed)
    return rng.poisson(rng.gamma(0.7, 3.0, (series, 1)), (series, periods)).astype(float)


def chances_by_scipy(counts, periods, values):
    """Independent second implementation: a mixture of scipy's negative binomials, row by row."""
    beliefs = learn_counts(counts, learn_habits(counts))
    for row in range(len(counts)):
        size = beliefs.level[row] * periods / (beliefs.dispersion - 1)
        each = stats.nbinom.cdf(values[:, None], size, 1 / beliefs.dispersion)
        yield each @ beliefs.chance[row]


@pytest.mark.parametrize("scale", [1, 60, 300], ids=["few", "hundreds", "thousands"])
def test_quantile_is_that_of_a_mixture_of_negative_binomials(scale):
    counts = shop() * scale
    found = quantiles_of_sums(counts, 3, CHANCES)
    values = np.arange(0, 4 * counts.max() + 50)
    for row, within in enumerate(chances_by_scipy(counts, 3, values)):
        by_scipy = np.searchsorted(within, CHANCES)
        assert found[row] == pytest.approx(by_scipy, rel=0 if scale == 1 else 0.01)


def test_level_meets_the_share_of_demand_that_many_drawn_futures_show():
    counts = shop(6)
    levels = quantiles_of_sums(counts, 3, (0.6, 0.9))
    shown = expected_fill(counts, levels, lead=2)
    uniform = np.random.default_rng(5).random(200_000)
    before, after = (
        [np.searchsorted(one, uniform) for one in chances_by_scipy(counts, periods, np.arange(500))]
        for periods in (2, 3)
    )
    for row in range(len(counts)):
        for column, level in enumerate(levels[row]):
            short = [np.maximum(drawn[row] - level, 0).mean() for drawn in (before, after)]
            drawn_fill = 1 - (short[1] - short[0]) / (after[row].mean() / 3)
            assert shown[row, column] == pytest.approx(drawn_fill, abs=0.02)


@pytest.mark.parametrize("target", [0.8, 0.95, 0.99])
def test_level_for_a_fill_is_the_least_that_reaches_it(target):
    counts = shop()
    level = level_for_fill(counts, (target,), lead=2)
    fill = expected_fill(counts, np.hstack([level, level - 1]), lead=2)
    assert (fill[:, 0] >= target).all()
    assert (fill[:, 1] < target).all()


def test_higher_chance_and_more_periods_never_need_less():
    counts = shop()
    one, three = (quantiles_of_sums(counts, periods, CHANCES) for periods in (1, 3))
    assert (np.diff(three, axis=1) >= 0).all()
    assert (three >= one).all()


def test_same_history_gives_the_same_numbers():
    assert (quantiles_of_sums(shop(), 3, CHANCES) == quantiles_of_sums(shop(), 3, CHANCES)).all()


def test_part_of_a_shop_with_its_habits_is_forecast_as_in_the_whole():
    counts = shop()
    whole = quantiles_of_sums(counts, 3, CHANCES)
    part = quantiles_of_sums(counts[4:7], 3, CHANCES, learn_habits(counts))
    assert (part == whole[4:7]).all()


def test_periods_out_of_stock_are_not_read_as_no_demand():
    counts = shop()
    empty, unknown = counts.copy(), counts.copy()
    empty[:, -8:], unknown[:, -8:] = 0, np.nan
    as_none, as_unknown = (quantiles_of_sums(one, 3, (0.9,)).sum() for one in (empty, unknown))
    assert as_unknown == pytest.approx(quantiles_of_sums(counts, 3, (0.9,)).sum(), rel=0.2)
    assert as_none < 0.7 * as_unknown


@pytest.mark.parametrize("periods", [0, 1, 2])
def test_series_hardly_begun_takes_the_level_of_the_shop(periods):
    counts = np.full((13, 40), np.nan)
    counts[:12] = shop()
    counts[12, 40 - periods :] = 1.0
    new = quantiles_of_sums(counts, 3, CHANCES)[12]
    assert np.isfinite(new).all()
    assert 0 < new[0] < new[-1] < 60


@pytest.mark.parametrize(
    "counts", [np.zeros((0, 9)), np.zeros((4, 0)), np.full((4, 9), np.nan), np.zeros((4, 9))]
)
def test_shop_of_which_nothing_is_known_expects_nothing(counts):
    assert (quantiles_of_sums(counts, 3, CHANCES) == 0).all()
    assert (level_for_fill(counts, (0.95,), lead=2) == 0).all()
    assert (expected_fill(counts, np.zeros((len(counts), 1)), lead=2) == 1).all()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda counts: quantiles_of_sums(counts, 0, CHANCES), "periods_ahead must be 1 or more"),
        (lambda counts: quantiles_of_sums(counts, 3, (95,)), "chance must lie between 0 and 1"),
        (lambda counts: level_for_fill(counts, (1.0,), lead=2), "target must lie between 0 and 1"),
        (lambda counts: level_for_fill(counts, (0.9,), lead=-1), "lead must not be negative"),
        (
            lambda counts: level_for_fill(counts, (0.9,), lead=1, review=0),
            "review must be 1 or more",
        ),
    ],
    ids=["no-periods", "per-cent", "certain", "negative-lead", "no-review"],
)
def test_number_out_of_range_is_refused(call, message):
    with pytest.raises(OutOfRange, match=message):
        call(shop())


def test_expected_demand_is_the_mean_of_what_the_quantiles_span():
    counts = shop()
    chances = (np.arange(400) + 0.5) / 400
    by_quantiles = quantiles_of_sums(counts, 3, chances).mean(axis=1)
    assert expected_demand(counts, 3) == pytest.approx(by_quantiles, rel=0.02, abs=0.02)


@settings(max_examples=25, deadline=None)
@given(
    arrays(
        float,
        array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=14),
        elements=st.one_of(st.just(np.nan), st.sampled_from([0.0, 1.0, 7.0, 0.25, 90.0])),
    )
)
def test_any_history_gives_finite_quantiles_that_rise_with_the_chance(counts):
    quantiles = quantiles_of_sums(counts, 2, CHANCES)
    assert np.isfinite(quantiles).all()
    assert (quantiles >= 0).all()
    assert (np.diff(quantiles, axis=1) >= 0).all()
    fill = expected_fill(counts, quantiles, lead=1)
    assert ((fill >= 0) & (fill <= 1)).all()
    assert (np.diff(fill, axis=1) >= -1e-9).all()
