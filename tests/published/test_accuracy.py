"""Forecast errors against published values."""

import numpy as np
import pandas as pd
import pytest
from utilsforecast.losses import mase, mqloss

from forecasting.accuracy import pinball_loss, scored_totals, usual_change


def test_quantile_score_of_the_book_is_twice_the_pinball_loss():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., section 5.9 (read):
    # 10 % quantile 744.54, actual 741.84, score 4.86 with the book's factor 2.
    loss = pinball_loss(np.array([741.84]), np.array([744.54]), 0.1)
    assert 2 * loss[0] == pytest.approx(4.86, abs=0.001)


def test_interval_score_of_the_book_follows_from_two_pinball_losses():
    # Same section (upper end 773.22 and score 55.68 from memory): the Winkler score of an 80 %
    # interval is the sum of the pinball losses of its ends over 0.1.
    actual = np.array([741.84])
    ends = pinball_loss(actual, np.array([744.54]), 0.1) + pinball_loss(
        actual, np.array([773.22]), 0.9
    )
    assert ends[0] / 0.1 == pytest.approx(55.68, abs=0.006)


def random_totals():
    rng = np.random.default_rng(5)
    past, used = rng.poisson(20, 12).astype(float), rng.poisson(20, 30).astype(float)
    totals = pd.DataFrame({"used": used, "mean": rng.uniform(15, 25, 30)})
    return past, totals.assign(q05=totals["mean"] - 8, q95=totals["mean"] + 8)


def test_scaled_error_is_that_of_an_independent_library():
    # Mean absolute scaled error (Hyndman & Koehler 2006) as utilsforecast works it out.
    past, totals = random_totals()
    ours = scored_totals(totals.assign(scale=usual_change(past)), {"q05": 0.05, "q95": 0.95})
    frame = totals.assign(unique_id="screws", ds=range(30))
    train = pd.DataFrame({"unique_id": "screws", "ds": range(12), "used": past})
    theirs = mase(frame, ["mean"], seasonality=1, train_df=train, target_col="used")
    assert ours["error"].mean() == pytest.approx(theirs["mean"].item())


def test_quantile_loss_is_that_of_an_independent_library():
    # utilsforecast's multi-quantile loss: the mean of the pinball losses, without a factor 2.
    _, totals = random_totals()
    ours = scored_totals(totals.assign(scale=1.0), {"q05": 0.05, "q95": 0.95})
    frame = totals.assign(unique_id="screws", ds=range(30))
    models = {"band": ["q05", "q95"]}
    theirs = mqloss(frame, models, quantiles=np.array([0.05, 0.95]), target_col="used")
    assert ours["loss"].mean() == pytest.approx(theirs["band"].item())


def test_exercise_of_the_last_value_again_gives_the_published_error():
    # Anderson, Sweeney & Williams type exercise, wizedu.com 9831 (read): 18, 13, 16, 11, 17, 14;
    # expecting the last value again errs by 4.4 on average.
    assert usual_change([18, 13, 16, 11, 17, 14]) == pytest.approx(4.4)


def test_scaled_error_of_the_r_package_metrics():
    # R package Metrics, help page of mase (read at rdrr.io): 0.2777778.
    actual = [1.1, 1.9, 3.0, 4.4, 5.0, 5.6]
    totals = pd.DataFrame({"used": actual, "mean": [0.9, 1.8, 2.5, 4.5, 5.0, 6.2]})
    scored = scored_totals(totals.assign(scale=usual_change(actual), q50=0.0), {"q50": 0.5})
    assert scored["error"].mean() == pytest.approx(0.2777778, abs=1e-6)
