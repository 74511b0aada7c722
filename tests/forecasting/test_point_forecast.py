import numpy as np
import pandas as pd
import pytest

from forecasting.point_forecast import Rival, weekly_levels

RNG = np.random.default_rng(3)


def weekly(**series):
    return pd.concat(
        pd.DataFrame(
            {
                "item": name,
                "week": pd.date_range("2024-01-01", periods=len(values), freq="7D"),
                "qty": np.asarray(values, dtype=float),
            }
        )
        for name, values in series.items()
    )


STEADY = RNG.normal(20, 2, 60).round()
RARE = np.where(np.arange(60) % 5 == 0, 8, 0) + (np.arange(60) % 10 == 0)


def test_steady_series_gets_its_mean_and_scores_of_all_models():
    level = weekly_levels(weekly(epoxy=STEADY), "item")["epoxy"]
    assert level.demand_class == "smooth"
    assert level.per_week == pytest.approx(20, rel=0.05)
    assert len(level.scores) == 3
    assert level.scores[level.model] == min(level.scores.values())


def test_rare_series_is_compared_with_methods_for_rare_demand():
    level = weekly_levels(weekly(rag=RARE), "item")["rag"]
    assert level.demand_class == "intermittent"
    assert "interval and size (SBA)" in level.scores
    assert level.per_week == pytest.approx(RARE.mean(), rel=0.2)


def test_step_up_in_demand_prefers_a_model_that_forgets():
    level = weekly_levels(weekly(epoxy=[*STEADY[:30], *(3 * STEADY[30:])]), "item")["epoxy"]
    assert level.model == "quickly smoothed level"
    assert level.per_week == pytest.approx(60, rel=0.1)


def test_series_that_never_varies_has_finite_scores():
    level = weekly_levels(weekly(epoxy=[5] * 60), "item")["epoxy"]
    assert level.per_week == pytest.approx(5)
    assert all(np.isfinite(score) for score in level.scores.values())


def test_short_series_takes_its_average_over_at_least_eight_weeks():
    level = weekly_levels(weekly(rag=[0, 0, 6, 2]), "item")["rag"]
    assert level.per_week == 1
    assert level.scores == {}


def test_series_of_one_class_share_their_model():
    levels = weekly_levels(weekly(a=STEADY, b=STEADY[::-1], c=STEADY[:40]), "item")
    assert len({level.model for level in levels.values()}) == 1


def test_rival_is_scored_beside_the_weekly_models_and_never_chosen():
    perfect = Rival("oracle", lambda day: {"epoxy": 160.0})
    level = weekly_levels(weekly(epoxy=np.tile([19, 21], 30)), "item", perfect)["epoxy"]
    assert level.scores["oracle"] <= min(level.scores.values())
    assert level.model != "oracle"


def test_rival_that_expects_far_too_much_is_scored_worst():
    wild = Rival("wild", lambda day: {"epoxy": 1600.0})
    level = weekly_levels(weekly(epoxy=STEADY), "item", wild)["epoxy"]
    assert level.scores["wild"] == max(level.scores.values())


def test_weeks_not_known_are_no_weeks_without_use():
    known = weekly_levels(weekly(epoxy=STEADY), "item")["epoxy"]
    holes = np.where(np.arange(60) % 9 == 4, np.nan, STEADY)
    level = weekly_levels(weekly(epoxy=holes), "item")["epoxy"]
    assert level.demand_class == "smooth"
    assert level.per_week == pytest.approx(known.per_week, rel=0.05)


def test_short_series_averages_the_weeks_known():
    level = weekly_levels(weekly(rag=[np.nan] * 4 + [2.0] * 12), "item")["rag"]
    assert level.per_week == 2


def test_rival_knows_nothing_after_the_day_it_is_asked_for():
    asked = []
    rival = Rival("oracle", lambda day: asked.append(day) or {})
    weekly_levels(weekly(epoxy=STEADY), "item", rival)
    last_sunday = pd.Timestamp("2024-01-01") + pd.Timedelta(weeks=60) - pd.Timedelta(days=1)
    assert max(asked) == last_sunday - pd.Timedelta(weeks=8)
