"""A forecast run: records to tables, tables to forecast, forecast to stored results."""

import time
from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING, Any

from inventory.actions.class_items import class_items
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import ForecastRun, Item, ItemForecast, Product, ProductForecast, Shop, User
from inventory.queries.forecast_inputs import plan_digest
from inventory.queries.planned_use import planned_use
from inventory.queries.real_use import AS_THE_BILL, LearnedUse
from inventory.queries.usage import ItemUsage, usage_by_product

if TYPE_CHECKING:
    import pandas as pd

    from forecasting.plan import ShopForecast

HORIZON_WEEKS = 26
PATHS = 2000


@action
def update_forecast(*, as_of: date, seed: int = 1, by: User | None = None) -> ForecastRun:
    """Forecast use of every item and store the run; the earlier run stands until this one is whole.

    Items get their classes by value and use with it.
    Refuses a shop without a name or without items.
    """
    if not Shop.objects.exists():
        raise Refused("There is no shop yet. Run python3 manage.py start, then name it.")
    # pandas and what follows take over a second to import: only a run pays for it, never a page.
    from forecasting.plan import forecast_shop
    from inventory.queries import history

    started = time.monotonic()
    items = history.items_to_forecast(as_of)
    codes = set(items["item"])
    usage = usage_by_product(as_of)
    if items.empty:
        raise Refused("There is nothing to forecast yet. Enter items and suppliers first.")
    result = forecast_shop(
        history.build_history(as_of),
        history.build_plan(as_of),
        history.usage_table(usage, codes),
        history.direct_use(as_of, codes),
        items,
        history.receipt_history(as_of),
        history.wear_lives(codes),
        planned_use=history.planned_use_table(planned_use(as_of), codes),
        as_of=as_of,
        horizon_weeks=HORIZON_WEEKS,
        paths=PATHS,
        seed=seed,
    )
    run = ForecastRun.objects.create(
        as_of=as_of,
        horizon_weeks=HORIZON_WEEKS,
        paths=PATHS,
        seed=seed,
        plan_digest=plan_digest(),
        seconds=time.monotonic() - started,
    )
    _store_products(run, result)
    _store_items(run, result, items, usage)
    class_items(as_of=as_of)
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
            reorder_point=row.reorder_point,
            safety_stock=row.safety_stock,
            order_up_to=row.order_up_to,
            weekly_level=row.weekly_level,
            fill_by_order=row.fill_by_order,
            use_factor=learned[row.item].factor,
            use_error=learned[row.item].error,
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
