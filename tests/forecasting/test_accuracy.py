import numpy as np
import pandas as pd
import pytest

from forecasting.accuracy import (
    pinball_loss,
    quantile_summary,
    scored_totals,
    usual_change,
)


def test_pinball_loss_is_least_at_the_quantile():
    demand = np.random.default_rng(1).poisson(8, 5000)
    losses = {guess: pinball_loss(demand, guess, 0.9).mean() for guess in range(20)}
    assert min(losses, key=losses.get) == np.quantile(demand, 0.9, method="inverted_cdf")


def test_summary_counts_how_often_a_quantile_held_per_class_and_in_all():
    past = pd.DataFrame(
        {
            "demand_class": ["lumpy", "lumpy", "smooth", "smooth"],
            "actual": [0.0, 4.0, 5.0, 7.0],
            "q80": [2.0, 4.0, 6.0, 6.0],
        }
    )
    summary = quantile_summary(past, "demand_class", {"q80": 0.8}).set_index("demand_class")
    assert summary.loc["lumpy", ["forecasts", "below", "below_or_at"]].tolist() == [2, 0.5, 1.0]
    assert summary.loc["smooth", "below_or_at"] == 0.5
    assert summary.loc["all", "forecasts"] == 4
    assert summary.loc["all", "loss"] == pytest.approx((0.4 + 0 + 0.2 + 0.8) / 16)


def test_summary_of_nothing_has_no_missing_numbers():
    empty = pd.DataFrame({"demand_class": [], "actual": [], "q80": []})
    summary = quantile_summary(empty, "demand_class", {"q80": 0.8})
    assert summary[["forecasts", "below", "below_or_at", "loss"]].to_numpy().tolist() == [[0] * 4]


@pytest.mark.parametrize(
    ("totals", "change"),
    [([], None), ([5], None), ([5, 8], None), ([5, 5, 5], None), ([5, 8, 4], 3.5)],
    ids=["nothing", "one total", "one change", "always the same", "two changes"],
)
def test_usual_change_takes_two_changes_at_least(totals, change):
    assert usual_change(totals) == change


def test_total_without_a_scale_has_no_scaled_error():
    totals = pd.DataFrame({"used": [4.0, 4.0], "mean": [6.0, 6.0], "q50": 4.0, "scale": [2, None]})
    scored = scored_totals(totals, {"q50": 0.5})
    assert scored["error"].tolist()[0] == 1.0
    assert scored["loss"].tolist()[0] == 0.0
    assert scored.loc[1].isna().all()
