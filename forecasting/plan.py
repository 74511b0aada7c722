"""The whole chain: build history, plan, usage and deliveries to reorder points."""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from forecasting.demand import monday_of
from forecasting.errors import require
from forecasting.expected_fill import Shelf, shelf
from forecasting.forecast_tables import (
    item_weeks_table,
    items_table,
    orders_imagined,
    product_weeks_table,
    products_table,
)
from forecasting.frames import checked
from forecasting.item_outlook import ItemOutlook, item_outlooks, planned_paths
from forecasting.lead_time import LeadTime, learn_lead_times
from forecasting.paths import seeded
from forecasting.plan_keeping import AS_PLANNED, PlannedStarts, learn_plan_keeping
from forecasting.point_forecast import Level
from forecasting.product_outlook import BATCH_RHYTHM, ProductOutlook, product_outlooks
from forecasting.service_ladder import service_ladder

__all__ = [
    "ItemFutures",
    "ShopForecast",
    "WeeklyLevels",
    "forecast_item",
    "forecast_shop",
    "known_level",
]


@dataclass(frozen=True)
class ShopForecast:
    """Result for the whole shop; every number is finite, doubts stand in the notes.

    products: product, demand_class, model, knives_per_week, batches_seen, weekly_level, scores,
        note.
    product_weeks: product, week (Monday), mean, q05, q50, q95; knives started in that week.
    items: item, demand_class, model, history_periods, lead_mean_days, lead_low_days,
        lead_high_days (19 in 20 arrive before), lead_seen, use_per_week, lead_demand_mean,
        lead_demand_q05, lead_demand_q95, reorder_point, safety_stock, order_up_to, weekly_level,
        fill_by_order (share of use met from the shelf: [[order quantity, share], ...]), note.
        Lead demand is use over lead time plus review interval; reorder_point is its quantile at the
        service level, never below its mean.
    item_weeks: item, week (Monday), mean, q05, q50, q80, q95; use from as_of to its Sunday.
    ladder: reorder points at the chances asked for, columns as in forecasting.service_ladder.
    """

    as_of: date
    horizon_weeks: int
    products: pd.DataFrame
    product_weeks: pd.DataFrame
    items: pd.DataFrame
    item_weeks: pd.DataFrame
    ladder: pd.DataFrame


@dataclass(frozen=True)
class WeeklyLevels:
    """Levels that an earlier forecast chose, so that the weekly models needn't be fitted again.

    products: by product. direct: of use outside batches, by item.
    """

    products: Mapping[Hashable, Level]
    direct: Mapping[Hashable, Level]


def known_level(demand_class: str, scores: Mapping[str, float], per_week: float) -> Level:
    """A level put together again from what ShopForecast.products says of it."""
    rivals = {name: loss for name, loss in scores.items() if name != BATCH_RHYTHM}
    model = min(rivals, key=lambda name: rivals[name], default="")
    return Level(demand_class, model, per_week, dict(scores))


@dataclass(frozen=True)
class _Imagined:
    """Futures of a shop, or of one item and the products that drive it."""

    items: pd.DataFrame
    products: dict[Hashable, ProductOutlook]
    outlooks: dict[Hashable, ItemOutlook]
    lead_times: dict[Hashable, LeadTime]
    leads: dict[Hashable, np.ndarray]
    weeks: list[pd.Timestamp]
    horizon_days: int

    def items_table(self) -> pd.DataFrame:
        return items_table(
            self.items, self.outlooks, self.lead_times, self.leads, self.horizon_days
        )

    def ladder(self, chances: Sequence[float]) -> pd.DataFrame:
        return service_ladder(self.items, self.outlooks, self.leads, self.horizon_days, chances)


@dataclass(frozen=True)
class ItemFutures:
    """One item: its row of ShopForecast.items, its rows of item_weeks, and what its shelf would do.

    arrived, served: use from an order to its arrival and to that of the next look's, every future.
    """

    figures: dict[str, Any]
    weeks: pd.DataFrame
    arrived: np.ndarray
    served: np.ndarray
    imagined: _Imagined

    def asking(self, service_level: float) -> "ItemFutures":
        """The same futures, asked for another service level.

        Raises: BadTable for one that isn't between 0 and 1.
        """
        items = checked("items", self.imagined.items.assign(service_level=service_level))
        imagined = replace(self.imagined, items=items)
        figures = imagined.items_table().iloc[0].to_dict()
        return replace(self, figures=figures, imagined=imagined)

    def shelf(self, order: float) -> Shelf:
        """Fill and mean stock at its reorder point when `order` stock units come at a time."""
        point = self.figures["reorder_point"]
        cover = self.figures["order_up_to"] - point
        return shelf(self.arrived, self.served, point=point, order=order, cover=cover)


def forecast_shop(
    builds: pd.DataFrame,
    plan: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    items: pd.DataFrame,
    receipts: pd.DataFrame,
    wear: pd.DataFrame | None = None,
    *,
    planned_use: pd.DataFrame | None = None,
    past_plans: pd.DataFrame | None = None,
    stock_outs: pd.DataFrame | None = None,
    chances: Sequence[float] = (),
    as_of: date,
    horizon_weeks: int = 26,
    paths: int = 2000,
    seed: int = 1,
) -> ShopForecast:
    """Forecast builds, use and reorder points as known at the end of the day `as_of`.

    Every product gets many simulated futures of batches; each future is multiplied by the present
    usage, so the materials of one knife stay correlated. Records after as_of are ignored. Items in
    `wear` are used up one by one, as each fails; without it, by their mean life. Planned batches
    come as late, and are given up as often, as those of `past_plans` were; without it they stand.
    `planned_use` comes with them; without it, they take the present usage. Weeks of `stock_outs`
    are no weeks without use outside batches: what was wanted then is not known.
    Each item's reorder point is also told for every one of `chances`.
    Shapes: tables as in forecasting.frames.
    Raises: BadTable, OutOfRange.
    """
    imagined = _imagine(
        builds,
        plan,
        usage,
        direct,
        items,
        receipts,
        wear,
        planned_use,
        past_plans,
        stock_outs,
        as_of=as_of,
        horizon_weeks=horizon_weeks,
        paths=paths,
        seed=seed,
    )
    return ShopForecast(
        as_of=pd.Timestamp(as_of).date(),
        horizon_weeks=horizon_weeks,
        products=products_table(imagined.products),
        product_weeks=product_weeks_table(imagined.products, imagined.weeks),
        items=imagined.items_table(),
        item_weeks=item_weeks_table(imagined.outlooks, imagined.weeks),
        ladder=imagined.ladder(chances),
    )


def forecast_item(
    item: Hashable,
    builds: pd.DataFrame,
    plan: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    items: pd.DataFrame,
    receipts: pd.DataFrame,
    wear: pd.DataFrame | None = None,
    *,
    planned_use: pd.DataFrame | None = None,
    past_plans: pd.DataFrame | None = None,
    stock_outs: pd.DataFrame | None = None,
    levels: WeeklyLevels,
    as_of: date,
    horizon_weeks: int = 26,
    paths: int = 2000,
    seed: int = 1,
) -> ItemFutures:
    """The same as forecast_shop says of one item, from its own products and the levels known.

    Takes the tables of the whole shop: rhythms, lead times and counts lean on all of them. No
    weekly model is fitted, so a page can wait for it.
    Raises: BadTable, OutOfRange; also when items has no such item.
    """
    require((items["item"] == item).any(), "item", "be in the table items", item)
    imagined = _imagine(
        builds,
        plan,
        usage,
        direct,
        items,
        receipts,
        wear,
        planned_use,
        past_plans,
        stock_outs,
        only=item,
        levels=levels,
        as_of=as_of,
        horizon_weeks=horizon_weeks,
        paths=paths,
        seed=seed,
    )
    row = next(imagined.items.itertuples())
    return ItemFutures(
        imagined.items_table().iloc[0].to_dict(),
        item_weeks_table(imagined.outlooks, imagined.weeks),
        *orders_imagined(row, imagined.outlooks[item], imagined.leads[item], imagined.horizon_days),
        imagined,
    )


def _imagine(
    builds: pd.DataFrame,
    plan: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    items: pd.DataFrame,
    receipts: pd.DataFrame,
    wear: pd.DataFrame | None,
    planned_use: pd.DataFrame | None,
    past_plans: pd.DataFrame | None,
    stock_outs: pd.DataFrame | None,
    *,
    only: Hashable | None = None,
    levels: WeeklyLevels | None = None,
    as_of: date,
    horizon_weeks: int,
    paths: int,
    seed: int,
) -> _Imagined:
    require(horizon_weeks >= 1, "horizon_weeks", "be 1 or more", horizon_weeks)
    require(paths >= 100, "paths", "be 100 or more", paths)
    today = pd.Timestamp(as_of).normalize()
    builds, direct = (
        _up_to(today, checked(*table)) for table in (("builds", builds), ("direct", direct))
    )
    plan, usage, items, receipts = (
        checked(*table)
        for table in (("plan", plan), ("usage", usage), ("items", items), ("receipts", receipts))
    )
    lead_times = learn_lead_times(items, receipts)
    leads = {
        item: lead.sample(paths, seeded(seed, "lead", item)) for item, lead in lead_times.items()
    }
    weeks = [monday_of(today) + pd.Timedelta(weeks=number) for number in range(horizon_weeks)]
    week_ends = np.array([(monday - today).days + 6 for monday in weeks], dtype=float)
    scope = {
        "as_of": today,
        "week_ends": week_ends,
        "horizon_days": _horizon(week_ends, items, leads),
        "paths": paths,
        "seed": seed,
    }
    if only is not None:
        usage, items = usage[usage["item"] == only], items[items["item"] == only]
    asked = [usage] if only is not None else [builds, plan, usage]
    names = list(dict.fromkeys(name for table in asked for name in table["product"]))
    keeping = AS_PLANNED
    if past_plans is not None:
        keeping = learn_plan_keeping(checked("past_plans", past_plans))
    starts = PlannedStarts(keeping, today, paths, seed)
    products = product_outlooks(
        names, builds, plan, starts, levels=levels and levels.products, **scope
    )
    lives = {} if wear is None else dict(iter(checked("wear", wear).groupby("item")))
    own_use = (
        {} if planned_use is None else planned_paths(checked("planned_use", planned_use), starts)
    )
    outlooks = item_outlooks(
        items["item"].tolist(),
        products,
        builds,
        usage,
        direct,
        lives,
        own_use,
        direct_levels=levels and levels.direct,
        stock_outs=None if stock_outs is None else checked("stock_outs", stock_outs),
        **scope,
    )
    return _Imagined(items, products, outlooks, lead_times, leads, weeks, scope["horizon_days"])


def _up_to(today: pd.Timestamp, frame: pd.DataFrame) -> pd.DataFrame:
    return frame[frame["day"] <= today].reset_index(drop=True)


def _horizon(week_ends: np.ndarray, items: pd.DataFrame, leads: dict[Hashable, np.ndarray]) -> int:
    """Days to simulate: to the last week shown and to the latest delivery imagined."""
    protection = [leads[row.item].max() + row.review_days for row in items.itertuples()]
    return math.ceil(max([week_ends[-1], *protection]))
