import numpy as np
import pandas as pd
import pytest

from forecasting.demand_series import demand_series
from forecasting.errors import BadInput, BadTable


def table(*rows, columns=("series_id", "period", "qty")):
    return pd.DataFrame(rows, columns=list(columns), dtype="string")


def test_periods_without_a_row_had_no_demand():
    read = demand_series(table(("screw", "2026-01", "3"), ("screw", "2026-04", "5")))
    assert read.periods == ["2026-01", "2026-02", "2026-03", "2026-04"]
    assert read.demand.tolist() == [[3, 0, 0, 5]]


def test_rows_of_one_period_are_added_up():
    read = demand_series(table(("a", "1", "2"), ("a", "2", "3"), ("a", "2", "4"), ("a", "2", "")))
    np.testing.assert_array_equal(read.demand, [[2, np.nan]])
    read = demand_series(table(("a", "1", "2"), ("a", "2", "3"), ("a", "2", "4")))
    assert read.demand.tolist() == [[2, 7]]


def test_before_its_first_row_a_series_is_not_known_and_after_its_last_not_asked_for():
    read = demand_series(table(("a", "1", "2"), ("b", "3", "4"), ("a", "4", "0")))
    np.testing.assert_array_equal(read.demand, [[2, 0, 0, 0], [np.nan, np.nan, 4, 0]])


def test_empty_quantity_is_not_known_rather_than_none():
    read = demand_series(table(("a", "1", "2"), ("a", "2", ""), ("a", "3", "1")))
    np.testing.assert_array_equal(read.demand, [[2, np.nan, 1]])


@pytest.mark.parametrize(
    ("written", "periods"),
    [
        (("2025-12", "2026-02"), ["2025-12", "2026-01", "2026-02"]),
        (("2025-12-01", "2026-02-01"), ["2025-12", "2026-01", "2026-02"]),
        (("2025-12-22", "2026-01-05"), ["2025-W52", "2026-W01", "2026-W02"]),
        (("2020-W53", "2021-W01"), ["2020-W53", "2021-W01"]),
        (("98", "100"), ["98", "99", "100"]),
    ],
    ids=["months", "firsts of months", "Mondays", "ISO weeks over New Year", "numbers"],
)
def test_periods_come_in_every_usual_form(written, periods):
    read = demand_series(table(*[("a", period, "1") for period in written]))
    assert read.periods == periods


def test_rows_may_stand_in_any_order_and_month_is_another_word_for_period():
    rows = [("b", "2026-02", "1"), ("a", "2026-02", "2"), ("b", "2026-01", "3")]
    read = demand_series(table(*rows, columns=("series_id", "month", "qty")))
    assert dict(zip(read.names, read.demand[:, 1].tolist(), strict=True)) == {"b": 1, "a": 2}


def test_last_unit_cost_of_a_series_counts():
    rows = [("a", "1", "2", "0.5"), ("b", "1", "1", "9"), ("a", "2", "2", "0.75")]
    read = demand_series(table(*rows, columns=("series_id", "period", "qty", "unit_cost")))
    assert read.unit_cost.tolist() == [0.75, 9]


GOOD = ("a", "2026-01", "1")


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ([], "has no rows"),
        ([GOOD, ("a", "2026-02", "many")], "Line 3: qty must be a number, 0 or more.*has many"),
        ([GOOD, ("a", "2026-02", "-4")], "Line 3: qty must be a number, 0 or more"),
        ([GOOD, ("a", "2026-02", "inf")], "Line 3: qty must be a number"),
        ([GOOD, ("a", "2026-02", "1,5")], "with a point for decimals, but it has 1,5"),
        ([GOOD, ("", "2026-02", "1")], "Line 3: series_id must be filled, but it has nothing"),
        ([GOOD, ("a", "", "1")], "Line 3: period must be filled"),
        ([GOOD, ("a", "May", "1")], "Line 3: period must be a month .*but it has May"),
        ([GOOD, ("a", "2026-13", "1")], "Line 3: there is no such period, but it has 2026-13"),
        ([GOOD, ("a", "2026-W09", "1")], "not of one kind"),
        ([("a", "2026-01-05", "1"), ("a", "2026-01-13", "1")], "not of one kind"),
        ([("a", "2026-02-30", "1")], "Line 2: there is no such period"),
        ([("a", "2026-W60", "1")], "Line 2: there is no such period"),
        ([("a", "1", "1"), ("a", "999999", "1")], "periods must span no more than 10000"),
    ],
)
def test_nonsense_is_refused_with_its_line_and_what_to_write(rows, message):
    with pytest.raises(BadInput, match=message):
        demand_series(table(*rows))


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        (("item", "period", "qty"), "no column series_id. It needs series_id, period"),
        (("series_id", "when", "amount"), "no column period, qty"),
    ],
)
def test_table_without_its_columns_is_refused(columns, message):
    with pytest.raises(BadTable, match=message):
        demand_series(table(GOOD, columns=columns))


def test_table_with_both_period_and_month_is_refused():
    with pytest.raises(BadTable, match="stands twice"):
        demand_series(table(("a", "1", "2", "2"), columns=("series_id", "period", "month", "qty")))


def test_empty_unit_cost_is_refused():
    rows = [("a", "1", "2", "")]
    with pytest.raises(BadTable, match="Line 2: unit_cost must be filled"):
        demand_series(table(*rows, columns=("series_id", "period", "qty", "unit_cost")))
