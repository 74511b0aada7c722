import numpy as np
import pytest

from forecasting.model_choice import judge, judge_sums, origins, pays
from forecasting.point_models import AVERAGE, LEAN_MODELS, SMOOTHED

RNG = np.random.default_rng(4)
STEADY = RNG.normal(20, 2, (6, 40)).round()
QUICK = "quickly smoothed level"


def best(scores):
    return min(scores, key=scores.get)


def test_origins_leave_the_periods_ahead_and_eight_known():
    assert origins(40, 3, 3, 3) == [37, 34, 31]
    assert origins(14, 3, 3, 3) == [11, 8]
    assert origins(10, 3, 3, 3) == []


def test_step_in_demand_is_foretold_better_by_what_forgets():
    stepped = STEADY * np.where(np.arange(40) < 26, 1, 3)
    scores = judge(stepped, [SMOOTHED, QUICK, AVERAGE], 3, [37, 34]).scores(np.arange(6))
    assert best(scores) == QUICK
    assert scores[AVERAGE] == max(scores.values())


def test_same_mean_loses_the_same_under_any_name():
    judged = judge_sums(
        STEADY, ["one", "other"], 3, [37], lambda _, rows: np.full((len(rows), 2), 60)
    )
    scores = judged.scores(np.arange(6))
    assert scores["one"] == scores["other"]


def test_mean_that_is_right_loses_less_than_one_too_low_or_too_high():
    judged = judge_sums(
        STEADY,
        ["low", "right", "high"],
        3,
        [37, 34, 31],
        lambda _, rows: np.tile([45.0, 60, 80], (len(rows), 1)),
    )
    assert best(judged.scores(np.arange(6))) == "right"


def test_large_and_small_series_count_alike():
    both = np.vstack([STEADY, 1000 * STEADY])
    judged = judge(both, LEAN_MODELS, 3, [37, 34])
    small, large = judged.scores(np.arange(6)), judged.scores(np.arange(6, 12))
    assert small == pytest.approx(large, rel=0.08)


def test_outcome_is_judged_by_the_part_that_is_known():
    holes = STEADY.copy()
    holes[:, 38] = np.nan
    known = judge(holes, [SMOOTHED], 3, [37]).scores(np.arange(6))
    assert known[SMOOTHED] == pytest.approx(
        judge(STEADY, [SMOOTHED], 3, [37]).scores(np.arange(6))[SMOOTHED], rel=0.6
    )


def test_series_with_too_little_known_are_not_judged():
    short = np.where(np.arange(40) < 31, np.nan, STEADY)
    assert judge(short, [SMOOTHED], 3, [37]).scores(np.arange(6)) == {}


def test_spread_found_around_a_model_widens_its_distribution():
    steady = judge(STEADY, [SMOOTHED], 3, [37, 34]).spread_factor(np.arange(6), SMOOTHED)
    moving = STEADY * np.where(np.arange(40) < 34, 1, 2)
    assert judge(moving, [SMOOTHED], 3, [37, 34]).spread_factor(np.arange(6), SMOOTHED) > steady


def test_richer_model_pays_only_when_it_wins_by_more_than_chance():
    plain = RNG.normal(10, 1, 50)
    assert pays(plain - 2 + RNG.normal(0, 1, 50), plain)
    assert not pays(RNG.permutation(plain), plain)
    assert not pays(np.array([0.0, np.nan]), np.array([10.0, 10.0]))
