from datetime import date

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import BadTable
from forecasting.frames import TABLES, checked

BUILDS = pd.DataFrame({"product": ["hunter"], "day": [date(2026, 3, 4)], "qty": [12]})
ITEMS = pd.DataFrame(
    {
        "item": [7],
        "supplier": [None],
        "lead_days": [14],
        "review_days": [7],
        "service_level": [0.95],
    }
)


def test_plain_dates_and_whole_numbers_become_timestamps_and_floats():
    tidy = checked("builds", BUILDS.assign(remark="extra column"))
    assert list(tidy.columns) == ["product", "day", "qty"]
    assert tidy.loc[0, "day"] == pd.Timestamp(2026, 3, 4)
    assert tidy["qty"].dtype == float


def test_day_with_a_time_zone_keeps_the_day_its_clock_shows():
    late = pd.Timestamp("2026-03-04 23:30", tz="America/Denver")
    assert checked("builds", BUILDS.assign(day=late)).loc[0, "day"] == pd.Timestamp(2026, 3, 4)


def test_item_without_supplier_is_accepted():
    assert len(checked("items", ITEMS)) == 1


@pytest.mark.parametrize("table", TABLES)
def test_empty_table_is_accepted(table):
    assert checked(table, pd.DataFrame(columns=list(TABLES[table]))).empty


@pytest.mark.parametrize(
    ("table", "frame", "message"),
    [
        ("builds", BUILDS.drop(columns="qty"), "table builds has no column qty; it needs product"),
        (
            "builds",
            BUILDS.assign(qty=0),
            "builds, column qty, row 0: must be a number above 0, .*0",
        ),
        ("builds", BUILDS.assign(qty=np.inf), "must be a number above 0, but got inf"),
        ("builds", BUILDS.assign(qty="a dozen"), "column qty: every value must be a number"),
        ("builds", BUILDS.assign(day="soon"), "column day: every value must be a date"),
        ("builds", BUILDS.assign(day=pd.NaT), "column day, row 0: must be a date"),
        ("builds", BUILDS.assign(product=None), "column product, row 0: must be filled"),
        (
            "planned_use",
            pd.DataFrame({"item": [7], "day": [date(2026, 3, 4)], "qty": [-np.inf]}),
            "table planned_use, column qty, row 0: must be a number, but got -inf",
        ),
        ("items", ITEMS.assign(service_level=95), "write 0.95 for 95 %.*but got 95"),
        ("items", pd.concat([ITEMS, ITEMS]), "lists item 7 twice; keep one"),
    ],
    ids=[
        "column",
        "zero",
        "infinite",
        "words",
        "day-words",
        "no-day",
        "no-product",
        "endless",
        "percent",
        "twice",
    ],
)
def test_unusable_table_is_refused_with_its_row(table, frame, message):
    with pytest.raises(BadTable, match=message):
        checked(table, frame)
