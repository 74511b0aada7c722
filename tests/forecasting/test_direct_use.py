from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from forecasting.direct_use import learn_direct_use, simulate_direct_use

TODAY = date(2026, 11, 25)


def withdrawals(item, *days_ago, qty=4.0):
    days = pd.to_datetime([TODAY - timedelta(days=ago) for ago in days_ago])
    return pd.DataFrame({"item": item, "day": days, "qty": qty})


def simulate(use, horizon_days=70, paths=4000):
    rng = np.random.default_rng(2)
    return simulate_direct_use(use, horizon_days=horizon_days, paths=paths, rng=rng)


def test_regular_withdrawals_go_on_at_their_pace():
    use = learn_direct_use(withdrawals("rag", *range(3, 700, 7)), TODAY)["rag"]
    used = simulate(use).until(70)[0]
    assert used.mean() == pytest.approx(40, rel=0.1)


def test_withdrawals_have_the_sizes_seen_or_whole_multiples_when_several_come_together():
    record = pd.concat([withdrawals("rag", 3, 40), withdrawals("rag", 60, qty=1.5)])
    paths = simulate(learn_direct_use(record, TODAY)["rag"])
    drawn = paths.qty[np.isfinite(paths.day)]
    assert {4.0, 1.5} <= set(drawn)
    assert ((drawn % 4 == 0) | (drawn % 1.5 == 0)).all()


def test_withdrawals_of_one_day_count_as_one():
    use = learn_direct_use(withdrawals("rag", 30, 30, 9), TODAY)["rag"]
    assert sorted(use.sizes) == [4.0, 8.0]


def test_item_used_once_long_ago_is_expected_seldom():
    record = pd.concat([withdrawals("rag", *range(3, 700, 7)), withdrawals("wax", 650)])
    use = learn_direct_use(record, TODAY)
    assert (
        simulate(use["wax"]).until(70)[0].mean() < 0.15 * simulate(use["rag"]).until(70)[0].mean()
    )


def test_weeks_without_stock_are_no_weeks_without_use():
    record = withdrawals("rag", *range(353, 700, 7))
    mondays = pd.date_range(end="2026-11-16", periods=50, freq="W-MON")
    outs = pd.DataFrame({"item": "rag", "week": mondays})
    blind, told = (
        simulate(learn_direct_use(record, TODAY, stock_outs=known)["rag"]).until(70)[0].mean()
        for known in (None, outs)
    )
    assert told == pytest.approx(40, rel=0.15)
    assert blind < 0.5 * told


def test_item_without_withdrawals_has_empty_futures():
    assert simulate(None).until(70)[0].max() == 0


@pytest.mark.parametrize(
    "record",
    [withdrawals("rag"), withdrawals("rag", 3, qty=0.0), withdrawals("rag", 1)],
    ids=["none", "only-zeros", "this-week-only"],
)
def test_record_that_says_nothing_yet_is_left_out(record):
    assert learn_direct_use(record.astype({"day": "datetime64[ns]"}), TODAY) == {}
