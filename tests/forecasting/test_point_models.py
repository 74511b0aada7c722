import numpy as np
import pytest

from forecasting.point_models import (
    LEVEL_MODELS,
    SEASON_AND_TREND_MODELS,
    SMOOTHED,
    expected_sums,
)

RNG = np.random.default_rng(2)
RARE = RNG.poisson(0.3, 48).astype(float)
STEADY = RNG.normal(20, 2, 48).round()


@pytest.mark.parametrize("model", [*LEVEL_MODELS, *SEASON_AND_TREND_MODELS])
@pytest.mark.parametrize("periods", [0, 1, 2, 3, 48])
def test_every_model_answers_for_every_length_of_history(model, periods):
    qty = np.array([RARE, STEADY, np.zeros(48)])[:, :periods]
    sums = expected_sums(qty, [model], 3, season=12)
    assert np.isfinite(sums).all()
    assert (sums >= 0).all()
    assert sums[2, 0] == 0


@pytest.mark.parametrize("model", LEVEL_MODELS)
def test_steady_demand_is_expected_at_its_level(model):
    assert expected_sums(STEADY[None], [model], 3)[0, 0] == pytest.approx(60, rel=0.12)


def test_smoothed_level_is_the_one_computed_by_hand():
    # level 4, then + 0.1 of each error: 4 + 0.1 x 2 = 4.2, 4.2 + 0.1 x 0.8 = 4.28
    assert expected_sums(np.array([[4.0, 6, 5]]), [SMOOTHED], 2)[0, 0] == pytest.approx(2 * 4.28)


def test_periods_not_known_are_passed_over():
    holes = np.array([[np.nan, 4.0, np.nan, 6, 5, np.nan]])
    assert expected_sums(holes, [SMOOTHED], 2)[0, 0] == pytest.approx(2 * 4.28)


def test_series_get_the_same_answer_whatever_stands_beside_them():
    qty = np.array([RARE, STEADY])
    together = expected_sums(qty, LEVEL_MODELS, 3)
    assert (together[1] == expected_sums(qty[1:], LEVEL_MODELS, 3)[0]).all()


def test_season_is_foretold_by_the_model_that_knows_it():
    year = np.array([10, 10, 10, 10, 10, 10, 10, 10, 40, 40, 40, 10])
    season = np.tile(year, 4).astype(float)[None, :45]
    plain, seasonal = expected_sums(season, [SMOOTHED, SEASON_AND_TREND_MODELS[1]], 3, season=12)[0]
    assert seasonal == pytest.approx(90, rel=0.15)  # two busy months and a quiet one
    assert abs(plain - 90) > abs(seasonal - 90)


def test_trend_is_foretold_by_the_model_that_knows_it():
    rising = np.arange(1.0, 49)[None]
    plain, trend = expected_sums(rising, [SMOOTHED, SEASON_AND_TREND_MODELS[0]], 3)[0]
    assert plain < trend < 49 + 50 + 51
