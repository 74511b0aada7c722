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
