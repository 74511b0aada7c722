"""One item worked out alone, from its own products and the levels that are known."""

from datetime import date, timedelta

import pandas as pd
import pytest

from forecasting import direct_use, product_outlook
from forecasting.errors import OutOfRange
from forecasting.plan import WeeklyLevels, forecast_item, forecast_shop, known_level

TODAY = date(2026, 11, 25)
SETTINGS = {"as_of": TODAY, "horizon_weeks": 26, "paths": 300, "seed": 4}


def rows(columns, *values):
    return pd.DataFrame(list(values), columns=columns.split())


def days_ago(*days):
    return [TODAY - timedelta(days=day) for day in days]


@pytest.fixture(scope="module")
def shop():
    """Three products and four items, years on record, one item used outside batches, too."""
    batches = [("hunter", day, 12) for day in days_ago(*range(9, 700, 31))]
    batches += [("skinner", day, 6) for day in days_ago(*range(20, 700, 17))]
    batches += [("paring", day, 30) for day in days_ago(40, 300)]
    rags = [("rag", day, 4.0) for day in days_ago(*range(3, 600, 14))]
    screws = [("screw", day, 2.0) for day in days_ago(*range(5, 600, 40))]
    return {
        "builds": rows("product day qty", *batches),
        "plan": rows("product day qty", ("paring", TODAY + timedelta(days=10), 40)),
        "usage": rows(
            "product item per_knife per_batch",
            *[("hunter", "bar", 260, 40), ("hunter", "screw", 2, 0), ("skinner", "bar", 200, 0)],
            *[("paring", "screw", 3, 0), ("paring", "sheet", 1, 0)],
        ),
        "direct": rows("item day qty", *rags, *screws),
        "items": rows(
            "item supplier lead_days review_days service_level",
            *[("bar", "mill", 21, 7, 0.95), ("screw", "shop", 10, 7, 0.95)],
            *[("rag", "shop", 10, 7, 0.9), ("sheet", "mill", 60, 7, 0.95)],
        ),
        "receipts": rows(
            "supplier item quoted_days actual_days",
            *[("mill", "bar", 21, late) for late in (20, 24, 30, 22)],
        ),
    }


@pytest.fixture(scope="module")
def whole(shop):
    return forecast_shop(**shop, **SETTINGS)


@pytest.fixture(scope="module")
def levels(whole):
    return WeeklyLevels(
        {
            row.product: known_level(row.demand_class, row.scores, row.weekly_level)
            for row in whole.products.itertuples()
        },
        {row.item: known_level("", {}, row.weekly_level) for row in whole.items.itertuples()},
    )


@pytest.fixture
def no_weekly_model(monkeypatch):
    def fail(*_, **__):
        raise AssertionError("a weekly model was fitted")

    monkeypatch.setattr(product_outlook, "weekly_levels", fail)
    monkeypatch.setattr(direct_use, "weekly_levels", fail)


@pytest.mark.parametrize("item", ["bar", "screw", "rag", "sheet"])
def test_one_item_alone_gets_the_figures_it_had_in_the_shop(
    shop, whole, levels, no_weekly_model, item
):
    alone = forecast_item(item, **shop, levels=levels, **SETTINGS)
    stored = whole.items[whole.items["item"] == item].iloc[0].to_dict()
    told = {"model", "note"}
    assert {name: alone.figures[name] for name in stored if name not in told} == {
        name: figure for name, figure in stored.items() if name not in told
    }
    weeks = whole.item_weeks[whole.item_weeks["item"] == item].reset_index(drop=True)
    pd.testing.assert_frame_equal(alone.weeks, weeks)


def test_share_met_from_the_shelf_grows_with_the_order(shop, levels):
    alone = forecast_item("bar", **shop, levels=levels, **SETTINGS)
    curve = alone.figures["fill_by_order"]
    assert [share for _, share in curve] == sorted(share for _, share in curve)
    assert alone.shelf(curve[2][0]).fill == pytest.approx(curve[2][1], abs=1e-4)
    assert alone.shelf(20_000).mean_stock > alone.shelf(5_000).mean_stock


def test_another_service_level_is_asked_of_the_same_futures(shop, levels):
    items = shop["items"].assign(service_level=0.99)
    surer = forecast_item("bar", **{**shop, "items": items}, levels=levels, **SETTINGS)
    asked = forecast_item("bar", **shop, levels=levels, **SETTINGS).asking(0.99)
    assert asked.figures == surer.figures
    assert asked.shelf(9000) == surer.shelf(9000)


def test_planned_batch_raises_the_reorder_point_of_what_it_takes(shop, levels):
    planned = rows("product day qty", ("hunter", TODAY + timedelta(days=7), 60))
    with_batch = {**shop, "plan": pd.concat([shop["plan"], planned])}
    before, after = (
        forecast_item("bar", **tables, levels=levels, **SETTINGS).figures["reorder_point"]
        for tables in (shop, with_batch)
    )
    assert after > before + 20 * 260


def test_item_that_is_not_in_the_table_is_refused(shop, levels):
    with pytest.raises(OutOfRange, match="item must be in the table items, but got axe"):
        forecast_item("axe", **shop, levels=levels, **SETTINGS)
