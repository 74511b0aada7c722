from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import BadTable, OutOfRange
from forecasting.plan import forecast_shop

TODAY = date(2026, 11, 25)
EMPTY = {
    "builds": pd.DataFrame(columns=["product", "day", "qty"]),
    "plan": pd.DataFrame(columns=["product", "day", "qty"]),
    "usage": pd.DataFrame(columns=["product", "item", "per_knife", "per_batch"]),
    "direct": pd.DataFrame(columns=["item", "day", "qty"]),
    "items": pd.DataFrame(
        columns=["item", "supplier", "lead_days", "review_days", "service_level"]
    ),
    "receipts": pd.DataFrame(columns=["supplier", "item", "quoted_days", "actual_days"]),
}
ITEMS = pd.DataFrame(
    [("bar", "mill", 21, 7, 0.95), ("screw", "shop", 10, 7, 0.95), ("rag", "shop", 10, 7, 0.95)],
    columns=EMPTY["items"].columns,
)
USAGE = pd.DataFrame(
    [("hunter", "bar", 260, 40), ("hunter", "screw", 2, 0), ("skinner", "bar", 200, 0)],
    columns=EMPTY["usage"].columns,
)


def days_ago(*days):
    return [TODAY - timedelta(days=d) for d in days]


def builds(product, *days, qty=12):
    return pd.DataFrame({"product": product, "day": days_ago(*days), "qty": qty})


def planned(product, *days, qty=12):
    return pd.DataFrame({"product": product, "day": days_ago(*(-d for d in days)), "qty": qty})


def forecast(horizon_weeks=26, paths=400, seed=1, **tables):
    tables = {**EMPTY, "items": ITEMS, "usage": USAGE, **tables}
    return forecast_shop(**tables, as_of=TODAY, horizon_weeks=horizon_weeks, paths=paths, seed=seed)


def row(frame, key):
    return frame[frame.iloc[:, 0] == key].iloc[0]


def assert_every_number_is_finite(result):
    for frame in (result.products, result.product_weeks, result.items, result.item_weeks):
        assert np.isfinite(frame.select_dtypes("number").to_numpy(dtype=float)).all()
        assert not frame.isna().any().any()


@pytest.mark.parametrize("tables", [{}, {"items": EMPTY["items"]}, {"usage": EMPTY["usage"]}])
def test_shop_without_any_history_gets_an_answer_in_words(tables):
    result = forecast(**tables)
    assert_every_number_is_finite(result)
    assert result.items["note"].str.startswith("not enough history").all()
    assert (result.items["reorder_point"] == 0).all()


@pytest.mark.parametrize("days", [(3,), (3, 60), (3, 60, 120)], ids=["one", "two", "three"])
def test_first_batches_lean_on_the_shop_and_say_so(days):
    result = forecast(builds=builds("hunter", *days))
    hunter = row(result.products, "hunter")
    assert_every_number_is_finite(result)
    assert hunter["batches_seen"] == len(days)
    assert hunter["note"].startswith(f"only {len(days)} batch")
    assert hunter["knives_per_week"] > 0


def test_steady_batches_give_their_own_pace():
    history = builds("hunter", *range(7, 730, 28))
    result = forecast(builds=history)
    assert row(result.products, "hunter")["knives_per_week"] == pytest.approx(3, rel=0.1)
    bar = row(result.items, "bar")
    assert bar["use_per_week"] == pytest.approx(3 * 260 + 40 / 4, rel=0.1)
    assert bar["history_periods"] == 101


def test_planned_batches_replace_the_forecast_up_to_the_last_of_them():
    history = builds("hunter", *range(7, 730, 28))
    weeks = forecast(builds=history, plan=planned("hunter", 20, 80, qty=30)).product_weeks
    weeks = weeks[weeks["product"] == "hunter"].set_index("week")["mean"]
    assert weeks[pd.Timestamp(2026, 12, 14)] == 30
    assert weeks[pd.Timestamp(2027, 2, 8)] == 30
    assert weeks[: pd.Timestamp(2027, 2, 8)].sum() == 60
    assert weeks[pd.Timestamp(2027, 2, 15) :].sum() > 0


def test_planned_batch_overdue_to_start_is_expected_now():
    result = forecast(plan=planned("hunter", -9, qty=5), horizon_weeks=1)
    assert result.product_weeks["mean"].tolist() == pytest.approx([5, 0], rel=0.05)
    assert row(result.items, "bar")["lead_demand_q05"] >= 5 * 260 + 40


def test_materials_of_one_knife_run_out_together():
    result = forecast(
        builds=builds("hunter", *range(7, 730, 28)), usage=USAGE[USAGE["item"] == "bar"][:1]
    )
    doubled = forecast(
        builds=builds("hunter", *range(7, 730, 28)),
        usage=pd.DataFrame(
            [("hunter", "bar", 260, 40), ("hunter", "screw", 520, 80)],
            columns=USAGE.columns,
        ),
    )
    ours = doubled.item_weeks.pivot(index="week", columns="item", values="q95")
    assert ours["screw"].to_numpy() == pytest.approx(2 * ours["bar"].to_numpy())
    assert row(result.items, "bar")["reorder_point"] == row(doubled.items, "bar")["reorder_point"]


def test_product_dropped_long_ago_is_hardly_forecast_and_says_so():
    history = pd.concat(
        [builds("hunter", *range(600, 1200, 28)), builds("skinner", *range(5, 700, 35))]
    )
    result = forecast(builds=history)
    hunter = row(result.products, "hunter")
    assert "likely to be no longer made" in hunter["note"]
    assert hunter["knives_per_week"] < 0.1 * row(result.products, "skinner")["knives_per_week"]


def test_use_outside_batches_is_forecast_for_itself():
    direct = pd.DataFrame({"item": "rag", "day": days_ago(*range(3, 600, 14)), "qty": 4.0})
    result = forecast(direct=direct)
    rag = row(result.items, "rag")
    assert rag["use_per_week"] == pytest.approx(2, rel=0.25)
    assert rag["lead_demand_q05"] <= rag["lead_demand_mean"] <= rag["reorder_point"]
    assert rag["model"].startswith("outside batches: ")


def test_safety_stock_is_what_the_reorder_point_holds_above_the_mean():
    items = forecast(builds=builds("hunter", *range(7, 730, 28))).items
    assert (items["safety_stock"]).to_numpy() == pytest.approx(
        (items["reorder_point"] - items["lead_demand_mean"]).to_numpy()
    )
    assert (items["order_up_to"] >= items["reorder_point"]).all()


def test_reorder_point_rises_with_service_level_and_lead_time():
    history = builds("hunter", *range(7, 730, 28))
    points = [
        row(forecast(builds=history, items=ITEMS.assign(**change)).items, "bar")["reorder_point"]
        for change in ({}, {"service_level": 0.99}, {"lead_days": 60})
    ]
    assert points[0] <= points[1] < points[2]


def test_same_seed_gives_the_same_answer_whatever_else_is_forecast():
    history = builds("hunter", *range(7, 730, 28))
    first = forecast(builds=history)
    second = forecast(builds=history, items=ITEMS.iloc[[1, 0]])
    screw = row(first.items, "screw").drop("note")
    assert screw.equals(row(second.items, "screw").drop("note"))


def test_records_after_the_day_asked_for_change_nothing():
    history = builds("hunter", *range(7, 730, 28))
    later = pd.concat([history, builds("hunter", -5, qty=500)])
    pd.testing.assert_frame_equal(
        forecast(builds=history).item_weeks, forecast(builds=later).item_weeks
    )


def test_cumulative_use_never_falls_from_week_to_week():
    result = forecast(builds=builds("hunter", *range(7, 730, 28)))
    for _, weeks in result.item_weeks.groupby("item"):
        assert (weeks[["mean", "q05", "q50", "q80", "q95"]].diff().dropna() >= 0).all().all()


def test_bad_tables_and_numbers_are_refused():
    with pytest.raises(BadTable, match="table builds has no column qty"):
        forecast(builds=EMPTY["builds"].drop(columns="qty"))
    with pytest.raises(OutOfRange, match="horizon_weeks must be 1 or more, but got 0"):
        forecast(horizon_weeks=0)
    with pytest.raises(OutOfRange, match="paths must be 100 or more"):
        forecast(paths=5)


# Lives of wearing items

MILLS = {
    "items": pd.DataFrame([("mill", "shop", 30, 7, 0.95)], columns=EMPTY["items"].columns),
    "usage": pd.DataFrame([("hunter", "mill", 0.05, 0)], columns=EMPTY["usage"].columns),
}


def fitted_mill(used):
    row = {"item": "mill", "mean_life": 107.0, "shape": 3.0, "scale": 120.0}
    return pd.DataFrame([{**row, "turn": 0, "used": 0.0}, {**row, "turn": 1, "used": used}])


def test_worn_cutter_brings_the_next_one_nearer_than_its_mean_says():
    history = builds("hunter", *range(7, 730, 28))
    results = {
        used: forecast(builds=history, wear=fitted_mill(used), **MILLS) for used in (0.0, 100.0)
    }
    new, old = (row(result.items, "mill")["lead_demand_mean"] for result in results.values())
    by_mean = row(forecast(builds=history, **MILLS).items, "mill")["lead_demand_mean"]
    assert new < by_mean < old
    assert_every_number_is_finite(results[0.0])
    assert "each changed as it fails" in row(results[0.0].items, "mill")["model"]


def test_cutters_are_asked_for_whole():
    history = builds("hunter", *range(7, 730, 28))
    weeks = forecast(builds=history, wear=fitted_mill(50.0), **MILLS).item_weeks
    assert (weeks["q95"] % 1 == 0).all()


def test_two_stations_are_changed_each_at_its_own_age():
    history = builds("hunter", *range(7, 730, 28))
    usage = MILLS["usage"].iloc[[0, 0]].assign(station=["1", "2"])
    usage["per_knife"] = usage["per_knife"] / 2

    def changes(first: float, second: float) -> float:
        wear = pd.concat(
            [
                fitted_mill(first).assign(station="1"),
                fitted_mill(second).assign(station="2"),
            ]
        )
        result = forecast(builds=history, wear=wear, **{**MILLS, "usage": usage})
        return row(result.items, "mill")["lead_demand_mean"]

    new, one_worn, both_worn = changes(0.0, 0.0), changes(0.0, 100.0), changes(100.0, 100.0)
    assert new < one_worn < both_worn
    assert both_worn - one_worn == pytest.approx(one_worn - new, rel=0.25)


def test_wear_without_a_shape_is_refused_with_its_row():
    with pytest.raises(BadTable, match="table wear, column shape, row 0: must be a number above 0"):
        forecast(wear=fitted_mill(0.0).assign(shape=0.0), **MILLS)


# Planned batches in choices of their own

SHEETS = {
    "items": pd.DataFrame(
        [("natural", "shop", 20, 7, 0.95), ("orange", "shop", 20, 7, 0.95)],
        columns=EMPTY["items"].columns,
    ),
    "usage": pd.DataFrame(
        [("neck", "natural", 0.07, 0.3), ("neck", "orange", 0.03, 0)],
        columns=EMPTY["usage"].columns,
    ),
}


def own_use(*rows):
    """Rows of item, days from today and what is taken above the usual mix."""
    rows = [(item, TODAY + timedelta(days=day), qty) for item, day, qty in rows]
    return pd.DataFrame(rows, columns=["item", "day", "qty"])


ALL_ORANGE = [("natural", -1.0), ("orange", 0.7)]
"""Ten knives in a batch: natural 0.07 x 10 + 0.3 in the mix, orange 0.3; really 0 and 1."""


def test_planned_batch_all_in_one_colour_takes_nothing_of_the_other():
    own = own_use(*((item, 10, qty) for item, qty in ALL_ORANGE))
    result = forecast(plan=planned("neck", 10, qty=10), planned_use=own, horizon_weeks=2, **SHEETS)
    weeks = result.item_weeks.pivot(index="week", columns="item", values=["q05", "q95"]).iloc[-1]
    assert (weeks[:, "natural"] == 0).all()
    assert weeks[:, "orange"].to_numpy() == pytest.approx(1)
    assert_every_number_is_finite(result)


def test_lead_time_reckons_with_the_colour_of_the_planned_batch():
    own = own_use(*((item, 10, qty) for item, qty in ALL_ORANGE))
    tables = {"plan": planned("neck", 10, qty=10), **SHEETS}
    usual, chosen = (
        forecast(**tables, **more).items.set_index("item")["lead_demand_mean"]
        for more in ({}, {"planned_use": own})
    )
    assert chosen["natural"] == pytest.approx(usual["natural"] - 1)
    assert chosen["orange"] == pytest.approx(usual["orange"] + 0.7)


def test_batches_after_the_plan_keep_the_usual_mix():
    history = builds("neck", *range(7, 730, 28), qty=10)
    own = own_use(*((item, 10, qty) for item, qty in ALL_ORANGE))
    tables = {"builds": history, "plan": planned("neck", 10, qty=10), **SHEETS}
    usual, chosen = (
        forecast(**tables, **more).item_weeks.pivot(index="week", columns="item", values="mean")
        for more in ({}, {"planned_use": own})
    )
    later = chosen.iloc[-1] - chosen.iloc[2]
    assert later["natural"] > 0
    assert later.to_numpy() == pytest.approx((usual.iloc[-1] - usual.iloc[2]).to_numpy())


def test_planned_use_of_a_past_day_counts_today():
    own = own_use(("natural", -9, -1.0), ("orange", -9, 0.7))
    result = forecast(plan=planned("neck", -9, qty=10), planned_use=own, horizon_weeks=1, **SHEETS)
    weeks = result.item_weeks.set_index("item")["q95"]
    assert weeks["natural"] == 0
    assert weeks["orange"] == pytest.approx(1)


def test_many_planned_batches_of_one_colour_leave_no_crumb_of_the_other():
    amounts = (3, 7, 11)
    plan = pd.concat([planned("neck", 3 + qty, qty=qty) for qty in amounts])
    own = own_use(*(("natural", 3 + qty, -(0.07 * qty + 0.3)) for qty in amounts))
    result = forecast(plan=plan, planned_use=own, horizon_weeks=3, **SHEETS)
    natural = result.item_weeks[result.item_weeks["item"] == "natural"]
    assert (natural[["q05", "q50", "q95"]] == 0).all().all()


def test_use_never_gets_below_zero_however_much_is_taken_off():
    own = own_use(("natural", 3, -50.0))
    result = forecast(plan=planned("neck", 10, qty=10), planned_use=own, **SHEETS)
    natural = result.item_weeks[result.item_weeks["item"] == "natural"]
    assert (natural[["mean", "q05", "q50", "q95"]] >= 0).all().all()
    assert row(result.items, "natural")["reorder_point"] >= 0


def test_colour_that_only_a_planned_batch_takes_is_forecast_and_says_so():
    tables = {**SHEETS, "usage": SHEETS["usage"][:1]}
    own = own_use(("natural", 10, -1.0), ("orange", 10, 1.0))
    result = forecast(plan=planned("neck", 10, qty=10), planned_use=own, **tables)
    orange = row(result.items, "orange")
    assert orange["lead_demand_mean"] == orange["reorder_point"] == 1
    assert orange["note"].startswith("planned batches alone")


def test_table_of_planned_use_without_rows_changes_nothing():
    history = builds("neck", *range(7, 730, 28), qty=10)
    tables = {"builds": history, "plan": planned("neck", 10, qty=10), **SHEETS}
    usual, same = (
        forecast(**tables, **more).item_weeks for more in ({}, {"planned_use": own_use()})
    )
    pd.testing.assert_frame_equal(usual, same)


# How the shop keeps its plan


def past_plans(*rows):
    return pd.DataFrame(rows, columns=["late", "outcome"])


ALWAYS_LATE = past_plans(*[(21, "begun")] * 12, *[(30, "given up")] * 4)


def test_shop_that_keeps_its_plan_badly_is_expected_to_start_late_or_never():
    tables = {"plan": planned("hunter", 3, qty=20), "horizon_weeks": 2}
    certain, doubtful = (
        forecast(**tables, **more).product_weeks["mean"].iloc[:2].sum()
        for more in ({}, {"past_plans": ALWAYS_LATE})
    )
    assert certain == pytest.approx(20, rel=0.1)
    assert doubtful == pytest.approx(20 * 8 / 24, rel=0.3)


def test_material_of_a_doubtful_plan_is_still_ordered_in_time():
    # The batch may begin on its day, if not often: 19 in 20 futures must have their material.
    tables = {"plan": planned("hunter", 3, qty=20), "items": ITEMS.assign(lead_days=10)}
    result = forecast(past_plans=ALWAYS_LATE, **tables)
    assert row(result.items, "bar")["reorder_point"] >= 20 * 260 + 40
    assert row(result.items, "bar")["lead_demand_mean"] < 0.6 * (20 * 260 + 40)


def test_note_of_a_planned_product_says_how_plans_were_kept():
    note = row(forecast(plan=planned("hunter", 3), past_plans=ALWAYS_LATE).products, "hunter")[
        "note"
    ]
    assert "come as they came before (0 of 16 begun by their day, 4 given up) up to 28 Nov" in note


def test_choices_of_a_planned_batch_come_on_the_day_the_batch_comes():
    own = own_use(*((item, 10, qty) for item, qty in ALL_ORANGE))
    tables = {"plan": planned("neck", 10, qty=10), "planned_use": own, **SHEETS}
    result = forecast(past_plans=ALWAYS_LATE, horizon_weeks=2, **tables)
    weeks = result.item_weeks.pivot(index="week", columns="item", values="q95").iloc[-1]
    assert weeks["natural"] == 0
    assert weeks["orange"] == pytest.approx(1)


def test_outcome_of_a_past_plan_in_other_words_is_refused():
    with pytest.raises(BadTable, match="must be begun, waiting or given up, but got late"):
        forecast(past_plans=past_plans((3, "late")))


# Little history


def test_shop_with_one_batch_ever_expects_the_next_within_months_not_days():
    result = forecast(builds=builds("hunter", 10))
    weeks = result.product_weeks[result.product_weeks["product"] == "hunter"]
    assert 0.5 < row(result.products, "hunter")["knives_per_week"] < 4
    assert weeks["q95"].iloc[0] <= 12
    assert row(result.products, "hunter")["note"].startswith("only 1 batch so far")
    assert_every_number_is_finite(result)


def test_new_product_with_a_plan_goes_on_in_the_rhythm_of_the_shop():
    history = builds("skinner", *range(7, 730, 28))
    result = forecast(builds=history, plan=planned("hunter", 20, qty=10))
    hunter = row(result.products, "hunter")
    assert hunter["batches_seen"] == 0
    assert hunter["note"].startswith("no batch on record: the plan stands, then the shop's usual")
    # 26 weeks: the planned batch, then one every four weeks from the 20th day on.
    assert hunter["knives_per_week"] * 26 == pytest.approx(10 * (1 + (182 - 20) / 28), rel=0.25)


def test_dropped_product_that_is_planned_again_is_made_again():
    history = pd.concat(
        [builds("hunter", *range(600, 1200, 28)), builds("skinner", *range(5, 700, 35))]
    )
    result = forecast(builds=history, plan=planned("hunter", 10, qty=15))
    assert "no longer made" not in row(result.products, "hunter")["note"]
    assert row(result.products, "hunter")["knives_per_week"] * 26 > 15


# What goes wrong without it


def deliveries(*actual):
    rows = [("mill", "bar", 21.0, float(days)) for days in actual]
    return pd.DataFrame(rows, columns=EMPTY["receipts"].columns)


def test_supplier_of_the_same_mean_but_a_late_tail_asks_for_more_stock():
    history = builds("hunter", *range(7, 730, 14))
    steady, unsteady = (
        row(forecast(builds=history, receipts=deliveries(*days)).items, "bar")
        for days in ([21] * 12, [14] * 9 + [42] * 3)
    )
    assert unsteady["lead_mean_days"] < 1.2 * steady["lead_mean_days"]
    assert unsteady["lead_high_days"] > 1.3 * steady["lead_high_days"]
    assert unsteady["reorder_point"] > steady["reorder_point"]


def test_one_large_batch_for_a_show_does_not_become_the_trend():
    usual = builds("hunter", *range(35, 730, 28))
    show = pd.concat([usual, builds("hunter", 7, qty=48)])
    before, after = (
        row(forecast(builds=history).items, "bar")["use_per_week"]
        for history in (pd.concat([usual, builds("hunter", 7)]), show)
    )
    assert after < 1.4 * before


def test_use_is_forecast_from_knives_started_not_from_good_ones():
    # Twelve started to ship eleven: the bars of all twelve are gone.
    started = forecast(builds=builds("hunter", *range(7, 730, 28), qty=12))
    good = forecast(builds=builds("hunter", *range(7, 730, 28), qty=11))
    ratio = row(started.items, "screw")["use_per_week"] / row(good.items, "screw")["use_per_week"]
    assert ratio == pytest.approx(12 / 11, rel=0.02)
