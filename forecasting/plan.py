"""The whole chain: build history, plan, usage and deliveries to reorder points."""

import math
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecasting.demand import monday_of
from forecasting.errors import require
from forecasting.forecast_tables import (
    item_weeks_table,
    items_table,
    product_weeks_table,
    products_table,
)
from forecasting.frames import checked
from forecasting.item_outlook import item_outlooks, planned_paths
from forecasting.lead_time import learn_lead_times
from forecasting.product_outlook import product_outlooks, seeded

__all__ = ["ShopForecast", "forecast_shop"]


@dataclass(frozen=True)
class ShopForecast:
    """Result for the whole shop; every number is finite, doubts stand in the notes.

    products: product, demand_class, model, knives_per_week, batches_seen, scores, note.
    product_weeks: product, week (Monday), mean, q05, q50, q95; knives started in that week.
    items: item, demand_class, model, history_periods, lead_mean_days, lead_low_days,
        lead_high_days (19 in 20 arrive before), lead_seen, use_per_week, lead_demand_mean,
        lead_demand_q05, lead_demand_q95, reorder_point, safety_stock, order_up_to, note.
        Lead demand is use over lead time plus review interval; reorder_point is its quantile at the
        service level, never below its mean.
    item_weeks: item, week (Monday), mean, q05, q50, q80, q95; use from as_of to its Sunday.
    """

    as_of: date
    horizon_weeks: int
    products: pd.DataFrame
    product_weeks: pd.DataFrame
    items: pd.DataFrame
    item_weeks: pd.DataFrame


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
    as_of: date,
    horizon_weeks: int = 26,
    paths: int = 2000,
    seed: int = 1,
) -> ShopForecast:
    """Forecast builds, use and reorder points as known at the end of the day `as_of`.

    Every product gets many simulated futures of batches; each future is multiplied by the present
    usage, so the materials of one knife stay correlated. Records after as_of are ignored. Items in
    `wear` are used up one by one, as each fails; without it, by their mean life. `planned_use`
    stands in every future, as the plan does; without it, planned batches take the present usage.
    Shapes: tables as in forecasting.frames.
    Raises: BadTable, OutOfRange.
    """
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
    names = _names(builds["product"], plan["product"], usage["product"])
    products = product_outlooks(names, builds, plan, **scope)
    lives = {} if wear is None else dict(iter(checked("wear", wear).groupby("item")))
    own_use = (
        {} if planned_use is None else planned_paths(checked("planned_use", planned_use), today)
    )
    outlooks = item_outlooks(
        items["item"].tolist(), products, builds, usage, direct, lives, own_use, **scope
    )
    return ShopForecast(
        as_of=today.date(),
        horizon_weeks=horizon_weeks,
        products=products_table(products),
        product_weeks=product_weeks_table(products, weeks),
        items=items_table(items, outlooks, lead_times, leads),
        item_weeks=item_weeks_table(outlooks, weeks),
    )


def _up_to(today: pd.Timestamp, frame: pd.DataFrame) -> pd.DataFrame:
    return frame[frame["day"] <= today].reset_index(drop=True)


def _names(*columns: pd.Series) -> list[Hashable]:
    return list(dict.fromkeys(name for column in columns for name in column))


def _horizon(week_ends: np.ndarray, items: pd.DataFrame, leads: dict[Hashable, np.ndarray]) -> int:
    """Days to simulate: to the last week shown and to the latest delivery imagined."""
    protection = [leads[row.item].max() + row.review_days for row in items.itertuples()]
    return math.ceil(max([week_ends[-1], *protection]))
