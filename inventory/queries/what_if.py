"""What if: an item's order figures with something else than now, nothing of it stored.

Works the item out again, with the products that use it, on the day and with the random numbers of
the run that counts; only what is asked differs between the two answers.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from inventory.models import ForecastRun, ItemForecast, Product, ProductForecast
from inventory.queries.counted_point import counted_point
from inventory.queries.expected_fill import usual_order
from inventory.queries.planned_use import planned_use
from inventory.queries.real_use import LearnedUse
from inventory.queries.reorder_list import ReorderLine, lines_of
from inventory.queries.usage import use_of_bills, usual_bills

if TYPE_CHECKING:
    import pandas as pd

    from forecasting.plan import ItemFutures, WeeklyLevels

TOLD = (
    *("lead_mean_days", "lead_low_days", "lead_high_days", "lead_seen", "use_per_week"),
    *("lead_demand_mean", "lead_demand_q05", "lead_demand_q95"),
    *("order_up_to", "fill_by_order"),
)


LEAST_ORDER = 1e-9
"""So that an item without use, which is never ordered, has a shelf to tell of."""


@dataclass(frozen=True)
class PlannedBatch:
    """A batch that isn't planned yet."""

    product: Product
    knives: int
    start_on: date


@dataclass(frozen=True)
class Tried:
    """What differs from now; None: nothing. lead_days: as quoted. price: of a pack."""

    service_level: float | None = None
    lead_days: float | None = None
    batch: PlannedBatch | None = None
    price: Decimal | None = None


@dataclass(frozen=True)
class Standing:
    """How an item stands: its line, and what its shelf does with the usual order.

    fill: share of use met from the shelf. mean_stock: on hand on average, stock units. money: what
    that costs to buy; None without a price. quoted_days: lead time before anything was learned.
    """

    line: ReorderLine
    order: Decimal
    fill: float
    mean_stock: float
    money: Decimal | None
    quoted_days: float


@dataclass(frozen=True)
class WhatIf:
    present: Standing
    tried: Standing


def what_if(forecast: ItemForecast, day: date, tried: Tried) -> WhatIf:
    """The item now, and with what is tried; day: of the stock it is compared with.

    Raises: forecasting.errors.OutOfRange for a service level or lead time that can't be.
    """
    # pandas takes half a second to import: only who asks pays for it.
    tables, levels = _tables(forecast), _levels(forecast.run)
    now = _futures(forecast, tables, levels)
    then = now
    if tried.lead_days is not None or tried.batch is not None:
        then = _futures(forecast, _changed(tables, forecast.item.code, tried), levels)
    asked = tables["items"].set_index("item").loc[forecast.item.code]
    service, quoted = float(asked["service_level"]), float(asked["lead_days"])
    present = _standing(forecast, now, day, Tried(service, quoted))
    if tried.service_level is not None:
        service, then = tried.service_level, then.asking(tried.service_level)
    terms = Tried(service, tried.lead_days or quoted, price=tried.price)
    return WhatIf(present, _standing(forecast, then, day, terms))


def users_of(forecast: ItemForecast) -> Iterable[Product]:
    """Products whose batches use the item."""
    return Product.objects.filter(code__in=list(forecast.per_knife)).order_by("code")


def _tables(forecast: ItemForecast) -> dict[str, "pd.DataFrame"]:
    """The tables of the whole shop, usage and wear of this item alone."""
    from inventory.queries import history
    from inventory.queries.wear_futures import wear_lives

    day, code = forecast.run.as_of, forecast.item.code
    items = history.items_to_forecast(day)
    learned = LearnedUse(
        forecast.use_factor, forecast.use_error, forecast.use_batches, forecast.use_scatter
    )
    use = use_of_bills(day, {forecast.item_id: learned})
    usual = usual_bills(day)
    usage = [row for bill in usual.values() for row in use.of(bill) if row.item.code == code]
    direct = history.direct_use(day, set(items["item"]))
    return {
        "builds": history.build_history(day),
        "plan": history.build_plan(),
        "usage": history.usage_table(usage, {code}),
        "direct": direct,
        "items": items,
        "receipts": history.receipt_history(day),
        "wear": wear_lives(usage, {code}),
        "past_plans": history.past_plans(day),
        "stock_outs": history.stock_out_weeks(day, direct),
        "planned_use": history.planned_use_table(planned_use(day, use, usual), {code}),
    }


def _levels(run: ForecastRun) -> "WeeklyLevels":
    from forecasting.plan import WeeklyLevels, known_level

    products = ProductForecast.objects.filter(run=run).values_list(
        "product__code", "demand_class", "scores", "weekly_level"
    )
    direct = ItemForecast.objects.filter(run=run).values_list("item__code", "weekly_level")
    return WeeklyLevels(
        {code: known_level(*told) for code, *told in products},
        {code: known_level("", {}, per_week) for code, per_week in direct},
    )


def _changed(
    tables: dict[str, "pd.DataFrame"], code: str, tried: Tried
) -> dict[str, "pd.DataFrame"]:
    import pandas as pd

    items = tables["items"].copy()
    if tried.lead_days is not None:
        items.loc[items["item"] == code, "lead_days"] = tried.lead_days
    plan = tables["plan"]
    if tried.batch is not None:
        batch = (tried.batch.product.code, tried.batch.start_on, tried.batch.knives)
        added = pd.DataFrame([batch], columns=["product", "day", "qty"])
        plan = pd.concat([plan, added], ignore_index=True) if len(plan) else added
    return {**tables, "items": items, "plan": plan}


def _futures(
    forecast: ItemForecast, tables: dict[str, "pd.DataFrame"], levels: "WeeklyLevels"
) -> "ItemFutures":
    from forecasting.plan import forecast_item

    run = forecast.run
    return forecast_item(
        forecast.item.code,
        **tables,
        levels=levels,
        as_of=run.as_of,
        horizon_weeks=run.horizon_weeks,
        paths=run.paths,
        seed=run.seed,
    )


def _standing(forecast: ItemForecast, futures: "ItemFutures", day: date, terms: Tried) -> Standing:
    """terms: service level and quoted lead time in force, and a price tried."""
    price = terms.price
    worked_out = _as_forecast(forecast, futures, terms.service_level)
    (line,) = lines_of([worked_out], day, price=price)
    order = usual_order(worked_out, line.offer, day, price=price)
    shelf = futures.shelf(max(float(order), LEAST_ORDER))
    unit_price = _unit_price(line, order, price)
    money = None if unit_price is None else Decimal(str(round(shelf.mean_stock, 6))) * unit_price
    return Standing(line, order, shelf.fill, shelf.mean_stock, money, terms.lead_days)


def _as_forecast(
    stored: ItemForecast, futures: "ItemFutures", service_level: float
) -> ItemForecast:
    """As a run would store it; never saved."""
    weeks: list[list[Any]] = [
        [week.date().isoformat(), *figures]
        for _, week, *figures in futures.weeks.itertuples(index=False)
    ]
    return ItemForecast(
        run=stored.run,
        item=stored.item,
        model=stored.model,
        service_level=service_level,
        per_knife=stored.per_knife,
        weeks=weeks,
        **{name: futures.figures[name] for name in TOLD},
        **counted_point(
            stored.item, futures.figures["reorder_point"], futures.figures["lead_demand_mean"]
        ),
    )


def _unit_price(line: ReorderLine, order: Decimal, price: Decimal | None) -> Decimal | None:
    if line.offer is None:
        return None
    packs = order / line.offer.pack_qty
    of_pack = line.offer.price_at(packs) if price is None else price
    return of_pack / line.offer.pack_qty
