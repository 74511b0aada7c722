import numpy as np
import pandas as pd
import pytest

from forecasting.errors import BadTable, OutOfRange
from forecasting.periodic_demand import periodic_demand


def table(*rows):
    return pd.DataFrame(rows, columns=["series_id", "period", "qty"])


SCREWS = table(("screw", "2026-01", 5), ("screw", "2026-04", 2), ("rag", "2026-03", 1))


def test_months_without_a_row_are_zero_from_the_first_record_to_the_end_of_the_table():
    demand = periodic_demand(SCREWS, "MS")
    assert demand.series.tolist() == ["rag", "screw"]
    np.testing.assert_equal(demand.qty, [[np.nan, np.nan, 1, 0], [5, 0, 0, 2]])


def test_rows_of_one_period_are_added_up():
    rows = table(("rag", "2026-03-04", 1), ("rag", "2026-03-30", 2))
    assert periodic_demand(rows, "MS").qty.tolist() == [[3]]


def test_month_without_stock_is_not_known_whatever_was_taken():
    outs = pd.DataFrame({"series_id": ["screw", "screw"], "period": ["2026-02", "2026-04"]})
    screws = periodic_demand(SCREWS, "MS", outs).qty[1]
    np.testing.assert_equal(screws, [5, np.nan, 0, np.nan])


def test_stock_out_before_or_after_the_table_is_passed_over():
    outs = pd.DataFrame({"series_id": ["screw", "screw"], "period": ["2025-12", "2026-05"]})
    np.testing.assert_equal(periodic_demand(SCREWS, "MS", outs).qty[1], [5, 0, 0, 2])


def test_empty_quantity_is_not_known():
    rows = table(("rag", "2026-01", 1), ("rag", "2026-02", None), ("rag", "2026-03", 4))
    np.testing.assert_equal(periodic_demand(rows, "MS").qty, [[1, np.nan, 4]])


@pytest.mark.parametrize(
    "period",
    [
        ["2026-W09", "2026-W11"],
        ["2026-02-25", "2026-03-10"],
        pd.to_datetime(["2026-02-23", "2026-03-15"]),
        pd.to_datetime(["2026-02-23", "2026-03-15"]).tz_localize("UTC"),
    ],
    ids=["iso-weeks", "days", "timestamps", "with-time-zone"],
)
def test_weeks_begin_on_monday_however_they_are_written(period):
    demand = pd.DataFrame({"series_id": "rag", "period": period, "qty": [1, 2]})
    assert periodic_demand(demand, "W-MON").qty.tolist() == [[1, 0, 2]]


def test_part_of_a_table_is_laid_over_the_whole_tables_span():
    whole = periodic_demand(SCREWS, "MS")
    rag = periodic_demand(
        SCREWS[2:], "MS", span=(whole.first, whole.first + whole.qty.shape[1] - 1)
    )
    np.testing.assert_equal(rag.qty[0], whole.qty[0])


def test_table_without_rows_has_no_series():
    assert periodic_demand(SCREWS[:0], "MS").qty.shape == (0, 0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"qty": -1}, "column qty, row 1: must be a number, 0 or more"),
        ({"qty": "many"}, "column qty, row 1: .* but got many"),
        ({"qty": float("inf")}, "column qty, row 1"),
        ({"period": "soon"}, "column period, row 1: must be a date, a month or a week"),
        ({"period": 7}, "column period, row 1"),
        ({"period": "2026-W60"}, "column period, row 1"),
        ({"period": None}, "column period, row 1: must be filled"),
        ({"series_id": None}, "column series_id, row 1: must be filled, but got nothing"),
        ({"period": "1726-01"}, "spans 3603 periods, more than 2000; the first is in row 1"),
    ],
)
def test_nonsense_is_refused_with_its_row(change, words):
    rows = SCREWS.astype(object)
    rows.loc[1, list(change)] = list(change.values())
    with pytest.raises(BadTable, match=words):
        periodic_demand(rows, "MS")


def test_missing_column_is_named():
    with pytest.raises(BadTable, match="table demand has no column qty; it needs series_id"):
        periodic_demand(SCREWS.drop(columns="qty"), "MS")


def test_stock_out_of_a_series_that_is_not_in_the_table_is_refused():
    outs = pd.DataFrame({"series_id": ["skrew"], "period": ["2026-02"]})
    with pytest.raises(BadTable, match="table stock_outs, column series_id, row 0: .*got skrew"):
        periodic_demand(SCREWS, "MS", outs)


def test_other_lengths_of_period_are_refused():
    with pytest.raises(OutOfRange, match="freq must be one of MS, W-MON, but got D"):
        periodic_demand(SCREWS, "D")
