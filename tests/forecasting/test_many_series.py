import numpy as np
import pandas as pd
import pytest

from forecasting import many_series
from forecasting.errors import BadTable, OutOfRange
from forecasting.many_series import forecast_many
from forecasting.point_models import LEAN_MODELS

CHANCES = (0.5, 0.8, 0.95, 0.99)
QUANTILES = ["q50", "q80", "q95", "q99"]
MONTHS = pd.date_range("2022-01-01", periods=60, freq="MS")


def table(**series):
    return pd.concat(
        pd.DataFrame(
            {"series_id": name, "period": MONTHS[: len(qty)], "qty": np.asarray(qty, float)}
        )
        for name, qty in series.items()
    )


def forecast(demand, **changes):
    changes = {"periods_ahead": 3, "chances": CHANCES, "models": LEAN_MODELS, **changes}
    return forecast_many(demand, **changes).set_index("series_id")


def shop(series=60, months=48, seed=1):
    """Steady, rare and lumpy series in turn."""
    rng = np.random.default_rng(seed)
    kinds = (
        lambda: rng.poisson(20, months),
        lambda: rng.poisson(0.3, months),
        lambda: (rng.random(months) < 0.3) * rng.geometric(0.1, months),
    )
    return table(**{f"s{n:03d}": kinds[n % 3]() for n in range(series)})


def assert_sensible(result):
    numbers = result[["mean", *QUANTILES]].to_numpy()
    assert np.isfinite(numbers).all()
    assert (numbers >= 0).all()
    assert (np.diff(result[QUANTILES].to_numpy(), axis=1) >= 0).all()


@pytest.mark.parametrize(
    ("qty", "words"),
    [
        ([], "no period known: nothing is forecast"),
        ([0, 0, 0], "never asked for in 3 periods: nothing is forecast"),
        ([0] * 30 + [6] + [0] * 9, "only one demand in 40 periods: leans on what is usual"),
        ([6], "only one demand in 1 period: leans on what is usual in this table"),
        ([4, 0, 2], "only 2 demands in 3 periods: leans on what is usual in this table"),
    ],
    ids=["no record", "never asked for", "one demand", "one period", "two demands"],
)
def test_short_history_gets_an_honest_answer(qty, words):
    unknown = pd.DataFrame({"series_id": "new", "period": MONTHS[47:48], "qty": [np.nan]})
    demand = [shop(30), table(new=qty) if qty else unknown]
    if qty:
        demand[1]["period"] = MONTHS[48 - len(qty) : 48]
    result = forecast(pd.concat(demand))
    assert_sensible(result)
    assert words in result.loc["new", "note"]
    assert (result.loc["new", "mean"] > 0) == (sum(qty) > 0)


@pytest.mark.parametrize("qty", [[], [0], [5], [5, 0], [5, 3]], ids=str)
def test_table_of_one_short_series_is_no_reason_to_fail(qty):
    demand = table(only=qty)
    result = forecast(demand, chances=CHANCES)
    assert len(result) == (1 if qty else 0)
    assert list(result.columns[-5:-1]) == QUANTILES
    if qty:
        assert_sensible(result)


def test_past_too_short_to_compare_models_is_said():
    result = forecast(table(epoxy=[20, 22, 19, 21, 20, 22, 19, 21, 20]))
    assert result.loc["epoxy", "mean"] == pytest.approx(20.5, rel=0.05)
    assert result.loc["epoxy", "note"] == "too short a past to compare models on"


def test_table_of_every_class_is_forecast_whole():
    result = forecast(shop())
    assert_sensible(result)
    assert set(result["demand_class"]) >= {"smooth", "intermittent", "lumpy"}
    assert (
        result.groupby("demand_class")["model"]
        .nunique()
        .drop("too few to class", errors="ignore")
        .max()
        == 1
    )


def test_mean_and_quantiles_fit_what_comes():
    rng = np.random.default_rng(8)
    rate = rng.choice([0.3, 2.0, 15.0], 150)
    qty = rng.poisson(rate[:, None], (150, 51))
    result = forecast(table(**{f"s{n:03d}": row[:48] for n, row in enumerate(qty)}))
    came = qty[:, 48:].sum(axis=1)
    assert 3 * result["mean"].sum() == pytest.approx(came.sum(), rel=0.05)
    assert (came <= result["q95"]).mean() == pytest.approx(0.96, abs=0.03)
    assert (came <= result["q80"]).mean() > 0.8


def test_month_that_was_out_of_stock_is_not_read_as_no_demand():
    steady = [20, 22, 19, 21] * 12
    sold_out = np.where(np.arange(48) >= 42, 0, steady)
    outs = pd.DataFrame({"series_id": "epoxy", "period": MONTHS[42:48]})
    blind = forecast(table(epoxy=sold_out)).loc["epoxy"]
    told = forecast(table(epoxy=sold_out), stock_outs=outs).loc["epoxy"]
    assert told["mean"] == pytest.approx(20.5, rel=0.05)
    assert blind["mean"] < 0.9 * told["mean"]
    assert told["note"].endswith("6 periods not known, passed over")
    assert told["periods_known"] == 42


def test_months_without_a_row_are_months_without_demand():
    full = shop(40)
    assert forecast(full[full["qty"] > 0]).loc["s001", "mean"] < 0.6
    first = full[(full["qty"] > 0) | (full["period"] == MONTHS[0])]
    pd.testing.assert_frame_equal(forecast(first), forecast(full))


def test_season_enters_where_it_pays_and_quantiles_follow_it():
    rng = np.random.default_rng(3)
    year = np.array([8, 8, 8, 8, 8, 8, 8, 8, 8, 50, 60, 50])
    busy = {f"s{n:02d}": rng.poisson(np.tile(year, 5)[:57]) for n in range(30)}
    result = forecast(table(**busy))
    assert set(result["model"]) == {"season, level and trend (Theta)"}
    assert result["mean"].mean() == pytest.approx(160 / 3, rel=0.1)
    assert (result["q80"] > 3 * result["mean"]).all()


def test_steady_demand_gets_no_season():
    rng = np.random.default_rng(3)
    result = forecast(table(**{f"s{n:02d}": rng.poisson(20, 57) for n in range(30)}))
    assert not result["model"].str.contains("Theta").any()


def test_unit_of_a_quantity_changes_the_figures_by_its_factor_alone():
    rng = np.random.default_rng(6)
    metres = {f"s{n:02d}": 0.25 * rng.poisson(8, 48) + rng.random(48) for n in range(30)}
    small, large = (
        forecast(table(**{name: factor * qty for name, qty in metres.items()}))
        for factor in (1, 1000)
    )
    figures = ["mean", *QUANTILES]
    assert large[figures].to_numpy() == pytest.approx(1000 * small[figures].to_numpy(), rel=0.02)


def test_counts_have_whole_quantiles():
    result = forecast(shop(40))
    assert (result[QUANTILES] % 1 == 0).all().all()


def test_series_are_the_same_however_many_are_reckoned_at_once(monkeypatch):
    demand = shop(24)
    together = forecast(demand)
    monkeypatch.setattr(many_series, "AT_ONCE", 7)
    pd.testing.assert_frame_equal(forecast(demand), together)


def test_order_of_the_rows_does_not_matter():
    demand = shop(40)
    pd.testing.assert_frame_equal(forecast(demand.sample(frac=1, random_state=1)), forecast(demand))


def test_weeks_are_forecast_like_months():
    demand = shop(20).assign(
        period=lambda rows: rows["period"].map(
            dict(zip(MONTHS, pd.date_range("2025-01-06", periods=60, freq="W-MON"), strict=True))
        )
    )
    result = forecast(demand, freq="W-MON", periods_ahead=4)
    assert_sensible(result)


def test_unusual_chances_name_their_columns():
    result = forecast(shop(10), chances=[0.05, 0.995])
    assert list(result.columns[-3:]) == ["q05", "q99.5", "note"]


def test_nonsense_is_refused():
    with pytest.raises(BadTable, match="column qty, row 2"):
        forecast(table(rag=[1, 2, -3]))
    with pytest.raises(OutOfRange, match="periods_ahead must be 1 or more, but got 0"):
        forecast(shop(2), periods_ahead=0)
    with pytest.raises(OutOfRange, match=r"write 0\.95 for 95 %"):
        forecast(shop(2), chances=[95])
