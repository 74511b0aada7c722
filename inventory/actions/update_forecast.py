"""A forecast run: records to tables, tables to forecast, forecast to stored results."""

import time
from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from django.db import transaction

from inventory.actions.class_items import class_items
from inventory.actions.forecast_runs import close_run, fail_run, queue_run, take_up, tell_progress
from inventory.actions.note_list import note_list
from inventory.actions.prune_runs import prune_runs
from inventory.actions.request import action
from inventory.actions.score_forecasts import score_forecasts
from inventory.errors import Refused
from inventory.models import ForecastRun, Item, ItemForecast, Product, ProductForecast, User
from inventory.queries.counted_point import counted_point
from inventory.queries.forecast_inputs import bills_in_force, plan_digest, plan_in_words
from inventory.queries.planned_use import planned_use
from inventory.queries.real_use import AS_THE_BILL, LearnedUse
from inventory.queries.run_lock import held
from inventory.queries.usage import ItemUsage, usage_by_product, use_of_bills

if TYPE_CHECKING:
    import pandas as pd

    from forecasting.plan import ShopForecast

BEGUN, READ, IMAGINED = 5, 30, 90
"""Percent done when it has begun, the records are read, and the futures are played through."""


@dataclass(frozen=True)
class Records:
    """The shop's records as the tables of forecast_shop, and what a run keeps beside them."""

    tables: dict[str, "pd.DataFrame"]
    usage: list[ItemUsage]
    rests_on: dict[str, Any]


def update_forecast(*, as_of: date, seed: int = 1, by: User | None = None) -> ForecastRun:
    """Forecast use of every item and store the run; the earlier run stands until this one is whole.

    Items get their classes by value and use with it, earlier runs whose weeks are over their
    scores. Not one transaction: nobody who books something has to wait for it. Refuses as
    queue_run does.
    """
    return work_out_run(run=queue_run(as_of=as_of, seed=seed, by=by))


def work_out_run(*, run: ForecastRun) -> ForecastRun:
    """Work out a queued run in this process; when that fails the run says why and counts for nothing.

    Refuses a run that isn't waiting.
    """
    with held(run):
        take_up(run=run)
        try:
            started = time.monotonic()
            tell_progress(run=run, percent=BEGUN)
            score_forecasts(day=run.as_of)
            records = _read_records(run.as_of)
            tell_progress(run=run, percent=READ)
            result = _play_through(run, records)
            tell_progress(run=run, percent=IMAGINED)
            return _store(run=run, records=records, result=result, started=started)
        except BaseException as error:
            fail_run(run=run, trouble=_trouble(error))
            raise


def _trouble(error: BaseException) -> str:
    if isinstance(error, Refused):
        return str(error)
    if isinstance(error, KeyboardInterrupt):
        return "It was stopped."
    return f"It broke off: {type(error).__name__}, {error}"[:500]


@transaction.atomic
def _read_records(day: date) -> Records:
    """All of it as of one moment; bookings wait for that long, not for the calculation."""
    # pandas takes half a second to import: only a run pays for it, never a page.
    from inventory.queries import history
    from inventory.queries.wear_futures import wear_lives

    rests_on = {
        "plan_digest": plan_digest(),
        "plan": plan_in_words(),
        "bills": bills_in_force(),
    }
    items = history.items_to_forecast(day)
    codes = set(items["item"])
    use = use_of_bills(day)
    usage = usage_by_product(day, use)
    direct = history.direct_use(day, codes)
    tables = {
        "builds": history.build_history(day),
        "plan": history.build_plan(),
        "usage": history.usage_table(usage, codes),
        "direct": direct,
        "items": items,
        "receipts": history.receipt_history(day),
        "wear": wear_lives(usage, codes),
        "past_plans": history.past_plans(day),
        "stock_outs": history.stock_out_weeks(day, direct),
        "planned_use": history.planned_use_table(planned_use(day, use), codes),
    }
    return Records(tables, usage, rests_on)


def _play_through(run: ForecastRun, records: Records) -> "ShopForecast":
    from forecasting.plan import forecast_shop

    return forecast_shop(
        **records.tables,
        as_of=run.as_of,
        horizon_weeks=run.horizon_weeks,
        paths=run.paths,
        seed=run.seed,
    )


@action
def _store(
    *, run: ForecastRun, records: Records, result: "ShopForecast", started: float
) -> ForecastRun:
    """Everything of the run at once, and only then does it count."""
    _store_products(run, result)
    _store_items(run, result, records.tables["items"], records.usage)
    seconds = time.monotonic() - started
    close_run(run=run, seconds=seconds, **records.rests_on)
    class_items(as_of=run.as_of)
    note_list(run=run)
    prune_runs(day=run.as_of)
    return run


def _store_products(run: ForecastRun, result: "ShopForecast") -> None:
    products = Product.objects.in_bulk(field_name="code")
    weeks = _weeks(result.product_weeks, "product", ["mean", "q05", "q50", "q95"])
    ProductForecast.objects.bulk_create(
        ProductForecast(
            run=run,
            product=products[row.product],
            demand_class=row.demand_class,
            model=row.model,
            knives_per_week=row.knives_per_week,
            batches_seen=row.batches_seen,
            weekly_level=row.weekly_level,
            scores=row.scores,
            weeks=weeks[row.product],
            note=row.note,
        )
        for row in result.products.itertuples()
    )


def _store_items(
    run: ForecastRun, result: "ShopForecast", asked: "pd.DataFrame", usage: list[ItemUsage]
) -> None:
    items = Item.objects.in_bulk(field_name="code")
    weeks = _weeks(result.item_weeks, "item", ["mean", "q05", "q50", "q80", "q95"])
    service = dict(zip(asked["item"], asked["service_level"], strict=True))
    per_knife: dict[str, dict[str, float]] = defaultdict(dict)
    learned: dict[str, LearnedUse] = defaultdict(lambda: AS_THE_BILL)
    for row in usage:
        so_far = per_knife[row.item.code].get(row.product, 0.0)
        per_knife[row.item.code][row.product] = so_far + row.per_knife
        learned[row.item.code] = row.learned
    ItemForecast.objects.bulk_create(
        ItemForecast(
            run=run,
            item=items[row.item],
            demand_class=row.demand_class,
            model=row.model,
            service_level=service[row.item],
            lead_mean_days=row.lead_mean_days,
            lead_low_days=row.lead_low_days,
            lead_high_days=row.lead_high_days,
            lead_seen=row.lead_seen,
            use_per_week=row.use_per_week,
            lead_demand_mean=row.lead_demand_mean,
            lead_demand_q05=row.lead_demand_q05,
            lead_demand_q95=row.lead_demand_q95,
            **counted_point(items[row.item], row.reorder_point, row.lead_demand_mean),
            order_up_to=row.order_up_to,
            weekly_level=row.weekly_level,
            fill_by_order=row.fill_by_order,
            use_factor=learned[row.item].factor,
            use_error=learned[row.item].error,
            use_scatter=learned[row.item].scatter,
            use_batches=learned[row.item].batches,
            per_knife=per_knife[row.item],
            weeks=weeks[row.item],
            note=row.note,
        )
        for row in result.items.itertuples()
    )


def _weeks(frame: "pd.DataFrame", key: str, columns: list[str]) -> dict[str, list[list[Any]]]:
    """[[Monday, figure, ...], ...] by product or item, ready for JSON."""
    weeks: dict[str, list[list[Any]]] = defaultdict(list)
    for name, week, *figures in frame[[key, "week", *columns]].itertuples(index=False):
        rounded = [float(f"{figure:.6g}") for figure in figures]
        weeks[name].append([week.date().isoformat(), *rounded])
    return weeks
