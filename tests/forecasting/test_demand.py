from datetime import date

import pandas as pd

from forecasting.demand import monday_of, weekly_demand


def records(*rows):
    return pd.DataFrame(rows, columns=["item", "day", "qty"]).astype({"day": "datetime64[ns]"})


def test_weeks_without_demand_are_zero():
    weekly = weekly_demand(
        records(("epoxy", "2026-11-02", 5.0), ("epoxy", "2026-11-17", 2.0)),
        "item",
        as_of=date(2026, 11, 22),
    )
    assert weekly["qty"].tolist() == [5.0, 0.0, 2.0]
    assert weekly["week"].iloc[0] == pd.Timestamp(2026, 11, 2)


def test_half_week_at_the_end_is_left_out():
    rows = records(("epoxy", "2026-11-02", 5.0), ("epoxy", "2026-11-24", 2.0))
    weekly = weekly_demand(rows, "item", as_of=date(2026, 11, 25))
    assert weekly["qty"].tolist() == [5.0, 0.0, 0.0]


def test_week_is_complete_on_its_sunday():
    weekly = weekly_demand(records(("epoxy", "2026-11-18", 1.0)), "item", as_of=date(2026, 11, 22))
    assert weekly["qty"].tolist() == [1.0]


def test_series_can_start_before_the_first_record():
    weekly = weekly_demand(
        records(("epoxy", "2026-11-10", 1.0)),
        "item",
        as_of=date(2026, 11, 15),
        since=pd.Timestamp(2026, 10, 28),
    )
    assert weekly["qty"].tolist() == [0.0, 0.0, 1.0]


def test_no_records_give_an_empty_series():
    assert weekly_demand(records(), "item", as_of=date(2026, 11, 15)).empty


def test_monday_of_a_sunday_is_six_days_before():
    assert monday_of(date(2026, 11, 29)) == pd.Timestamp(2026, 11, 23)


def stock_out(*weeks):
    table = pd.DataFrame({"item": "epoxy", "week": list(weeks)})
    return table.astype({"week": "datetime64[ns]"})


RARE_EPOXY = records(("epoxy", "2026-11-02", 5.0), ("epoxy", "2026-11-24", 2.0))


def test_week_without_stock_and_without_use_is_not_known():
    weekly = weekly_demand(
        RARE_EPOXY, "item", as_of=date(2026, 11, 29), stock_outs=stock_out("2026-11-16")
    )
    assert weekly["qty"].isna().tolist() == [False, False, True, False]


def test_week_that_ran_dry_after_some_use_keeps_what_was_used():
    weekly = weekly_demand(
        RARE_EPOXY, "item", as_of=date(2026, 11, 29), stock_outs=stock_out("2026-11-23")
    )
    assert weekly["qty"].tolist() == [5.0, 0.0, 0.0, 2.0]


def test_stock_outs_of_other_items_and_times_change_nothing():
    others = pd.concat(
        [stock_out("2026-10-05", "2027-01-04"), stock_out("2026-11-16").assign(item="resin")]
    )
    weekly = weekly_demand(RARE_EPOXY, "item", as_of=date(2026, 11, 29), stock_outs=others)
    assert weekly["qty"].notna().all()
