from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import OutOfRange
from forecasting.replay import replay_shop
from forecasting.shop_game import AS_SET, OURS

TODAY = date(2026, 11, 25)
ITEMS = pd.DataFrame(
    [("bar", "mill", 21, 7, 0.95), ("rag", "shop", 10, 7, 0.95), ("wax", "shop", 10, 7, 0.9)],
    columns=["item", "supplier", "lead_days", "review_days", "service_level"],
)
USAGE = pd.DataFrame(
    [("hunter", "bar", 260.0, 0.0)], columns=["product", "item", "per_knife", "per_batch"]
)
RECEIPTS = pd.DataFrame(columns=["supplier", "item", "quoted_days", "actual_days"])
DIRECT = pd.DataFrame(
    {"item": "rag", "day": [TODAY - timedelta(days=d) for d in range(3, 600, 9)], "qty": 2.0}
)


def builds(*days_ago, qty=12):
    days = [TODAY - timedelta(days=ago) for ago in days_ago]
    return pd.DataFrame({"product": "hunter", "day": days, "qty": qty})


def replay(history, **changes):
    return replay_shop(
        history, USAGE, DIRECT, ITEMS, RECEIPTS, as_of=TODAY, rounds=3, paths=300, **changes
    )


@pytest.fixture(scope="module")
def steady():
    return replay(builds(*range(7, 730, 28)))


def test_each_item_is_forecast_once_a_round_and_meets_what_happened(steady):
    bar = steady.forecasts[steady.forecasts["item"] == "bar"]
    assert bar["origin"].tolist() == [
        pd.Timestamp(2026, 8, 2),
        pd.Timestamp(2026, 8, 30),
        pd.Timestamp(2026, 9, 27),
    ]
    assert bar["actual"].tolist() == [2 * 12 * 260.0] * 3
    assert ((bar["q05"] <= bar["actual"]) & (bar["actual"] <= bar["q95"])).all()


def test_no_round_sees_what_came_after_it(steady):
    surprise = pd.concat([builds(*range(7, 730, 28)), builds(60, qty=900)])
    before = replay(surprise).forecasts.drop(columns="actual")
    expected = steady.forecasts.drop(columns="actual")
    early = expected["origin"] < pd.Timestamp(2026, 9, 20)
    pd.testing.assert_frame_equal(before[early], expected[early])


def test_steady_shop_is_served_by_its_reorder_points(steady):
    bar = steady.played[steady.played["item"] == "bar"].set_index(["rule", "knob"])
    assert bar.loc[(OURS, 0.95), "fill_rate"].item() > 0.97
    assert (bar["demand"] == 4 * 12 * 260).all()


def test_played_days_begin_after_the_first_forecast_and_end_on_a_sunday(steady):
    assert (steady.first_day, steady.last_day) == (date(2026, 8, 3), date(2026, 11, 22))


def test_item_never_used_is_judged_without_missing_numbers(steady):
    assert not steady.forecasts.isna().any().any()
    figures = ["demand", "fill_rate", "mean_stock", "days_short", "orders"]
    assert not steady.played[figures].isna().any().any()
    wax = steady.played[steady.played["item"] == "wax"]
    assert (wax["fill_rate"] == 1).all()


def test_each_rule_gets_a_curve_of_money_and_fill(steady):
    curves = steady.curves({"bar": 0.02, "rag": 1.5})
    assert [curve.rule for curve in curves][:2] == [OURS, AS_SET]
    assert len(curves) == 5
    for curve in curves:
        assert all(0 <= point.fill <= 1 and point.stock >= 0 for point in curve.points)


def test_ours_says_beforehand_what_it_expects_and_rivals_do_not(steady):
    ours, as_set, *rivals = steady.curves({"bar": 0.02, "rag": 1.5})
    told = [point.expected_fill for point in ours.points]
    assert told == sorted(told)
    assert 0 < as_set.points[0].expected_fill <= 1
    assert all(point.expected_fill is None for curve in rivals for point in curve.points)


def test_item_without_a_known_cost_is_left_out_of_the_curves(steady):
    with_rag, without = steady.curves({"bar": 0.02, "rag": 1.5}), steady.curves({"bar": 0.02})
    assert without[0].points[-1].stock < with_rag[0].points[-1].stock
    assert steady.curves({}) == ()


def test_more_money_on_the_shelf_serves_more(steady):
    for curve in steady.curves({"bar": 0.02, "rag": 1.5}):
        stocks = [point.stock for point in curve.points]
        assert stocks == sorted(stocks), curve.rule


def test_accuracy_is_given_per_class_and_for_all(steady):
    assert steady.accuracy["demand_class"].iloc[-1] == "all"
    assert np.isfinite(steady.accuracy[["below", "below_or_at", "loss"]].to_numpy()).all()
    assert (steady.accuracy["below"] <= steady.accuracy["below_or_at"]).all()


def test_shop_without_history_can_be_replayed():
    empty = builds()
    result = replay_shop(
        empty, USAGE, DIRECT.iloc[:0], ITEMS, RECEIPTS, as_of=TODAY, rounds=1, paths=200
    )
    assert (result.forecasts["actual"] == 0).all()
    assert (result.played["fill_rate"] == 1).all()


def test_shop_younger_than_the_days_played_can_be_replayed():
    young = replay(builds(3, 17))
    bar = young.played[young.played["item"] == "bar"]
    assert (bar["demand"] == 2 * 12 * 260).all()
    assert bar["fill_rate"].between(0, 1).all()


def test_impossible_rounds_are_refused():
    with pytest.raises(OutOfRange, match="rounds must be 1 or more, but got 0"):
        replay_shop(builds(3), USAGE, DIRECT, ITEMS, RECEIPTS, as_of=TODAY, rounds=0)


def test_weeks_with_none_on_the_shelf_are_not_read_as_weeks_without_use():
    days = [TODAY - timedelta(weeks=ago) for ago in range(16, 80)]
    rags = pd.DataFrame({"item": "rag", "day": days, "qty": 5.0})
    out = [TODAY - timedelta(weeks=ago) for ago in range(8, 16)]
    stock_outs = pd.DataFrame({"item": "rag", "week": out})
    items = pd.DataFrame(
        [("rag", "shop", 10, 7, 0.95)],
        columns=["item", "supplier", "lead_days", "review_days", "service_level"],
    )
    blind, aware = (
        replay_shop(
            builds(3), USAGE, rags, items, RECEIPTS, stock_outs=known, as_of=TODAY, rounds=1
        )
        .forecasts["mean"]
        .item()
        for known in (None, stock_outs)
    )
    assert aware > 1.1 * blind
