"""Cutters taken from stock in many futures."""

import numpy as np
import pandas as pd
import pytest

from forecasting.cutter_paths import MOST_CUTTERS, simulate_changes
from forecasting.renewal import Aged, line_changes, weibull_changes
from forecasting.weibull import Weibull

PATHS = 20_000


def lives(used=0.0, fitted=True, shape=3.0, scale=120.0):
    """A new one's life, and with one fitted also the life of that at its age."""
    row = {"mean_life": Weibull(shape, scale).mean, "shape": shape, "scale": scale}
    ages = [0.0, used] if fitted else [0.0]
    return pd.DataFrame(
        [{**row, "turn": float(turn), "used": age} for turn, age in enumerate(ages)]
    )


def taken(wear, minutes):
    in_lives = minutes / wear["mean_life"].iloc[0]
    rng = np.random.default_rng(5)
    futures = simulate_changes(wear, most_used=in_lives, paths=PATHS, rng=rng)
    return futures.until(np.full(PATHS, in_lives))


@pytest.mark.parametrize("used", [0.0, 60.0, 110.0, 200.0])
def test_age_of_the_fitted_one_counts_as_in_the_exact_distribution(used):
    exact = weibull_changes(3.0, 120.0, used, 300.0)
    counts = taken(lives(used), 300.0)
    assert counts.mean() == pytest.approx(exact.expected, abs=0.02)
    assert np.mean(counts == 0) == pytest.approx(exact.chance_of_none, abs=0.01)
    assert np.quantile(counts, 0.95) == exact.at_most(0.95)


def test_with_none_fitted_the_first_use_takes_one():
    fitted, empty = taken(lives(), 300.0), taken(lives(fitted=False), 300.0)
    assert empty.mean() == pytest.approx(fitted.mean() + 1, abs=0.02)


def test_those_in_line_go_in_before_any_leaves_the_shelf():
    wear = lives(used=60.0)
    reground = {"turn": 2.0, "mean_life": wear["mean_life"][0], "shape": 2.0, "scale": 50.0}
    line = pd.concat([wear, pd.DataFrame([{**reground, "used": 0.0}])], ignore_index=True)
    exact = line_changes([Aged(3.0, 120.0, 60.0), Aged(2.0, 50.0)], Aged(3.0, 120.0), 300.0)
    # The end of the fitted one takes none from the shelf: the reground one goes in.
    from_the_shelf = np.maximum(np.arange(exact.chance.size) - 1, 0) @ exact.chance
    assert taken(line, 300.0).mean() == pytest.approx(from_the_shelf, abs=0.02)


def test_nothing_used_takes_none():
    assert taken(lives(fitted=False), 0.0).sum() == 0


def test_each_future_takes_one_of_the_likely_lives():
    wear = pd.concat([lives(shape=3.0, scale=60.0), lives(shape=3.0, scale=240.0)])
    wear["mean_life"] = 100.0
    counts = taken(wear, 1000.0)
    per_life = [1000 / Weibull(3.0, scale).mean for scale in (60.0, 240.0)]
    assert np.quantile(counts, 0.1) < per_life[1] + 1
    assert np.quantile(counts, 0.9) > per_life[0] - 1


def test_use_by_week_is_counted_week_by_week_and_never_falls():
    futures = simulate_changes(lives(), most_used=5.0, paths=100, rng=np.random.default_rng(1))
    by_week = futures.until(np.linspace(0, 5, 12)[:, None] * np.ones(100))
    assert by_week.shape == (12, 100)
    assert (np.diff(by_week, axis=0) >= 0).all()


def test_very_many_cutters_are_left_to_their_mean():
    rng = np.random.default_rng(1)
    assert simulate_changes(lives(), most_used=MOST_CUTTERS + 1.0, paths=10, rng=rng) is None


def test_one_far_beyond_its_kind_is_changed_at_once():
    assert taken(lives(used=900.0, shape=1500.0, scale=30.0), 20.0).min() == 1
