"""Outlooks as tables: one row per product, item, and week."""

import math
from collections.abc import Hashable, Sequence

import numpy as np
import pandas as pd

from forecasting.expected_fill import between_deliveries, fills_by_order
from forecasting.item_outlook import ItemOutlook
from forecasting.lead_time import LeadTime
from forecasting.product_outlook import ProductOutlook

__all__ = [
    "item_weeks_table",
    "items_table",
    "orders_imagined",
    "product_weeks_table",
    "products_table",
]

COVER_DAYS = 30
"""Use an order covers beyond the reorder point, when reviews are closer (common practice)."""

ITEMS_AT_ONCE = 16

PRODUCTS = [
    "product",
    "demand_class",
    "model",
    "knives_per_week",
    "batches_seen",
    "weekly_level",
    "scores",
    "note",
]
ITEMS = [
    "item",
    "demand_class",
    "model",
    "history_periods",
    "lead_mean_days",
    "lead_low_days",
    "lead_high_days",
    "lead_seen",
    "use_per_week",
    "lead_demand_mean",
    "lead_demand_q05",
    "lead_demand_q95",
    "reorder_point",
    "safety_stock",
    "order_up_to",
    "weekly_level",
    "fill_by_order",
    "note",
]


def products_table(outlooks: dict[Hashable, ProductOutlook]) -> pd.DataFrame:
    """One row per product; columns as in forecasting.plan.ShopForecast."""
    rows = [
        (
            name,
            outlook.level.demand_class,
            outlook.model,
            _per_week(outlook.knives_by_week),
            outlook.batches_seen,
            outlook.level.per_week,
            outlook.level.scores,
            outlook.note,
        )
        for name, outlook in outlooks.items()
    ]
    return pd.DataFrame(rows, columns=PRODUCTS)


def product_weeks_table(
    outlooks: dict[Hashable, ProductOutlook], weeks: Sequence[pd.Timestamp]
) -> pd.DataFrame:
    """Knives started in each week, one row per product and week."""
    started = {
        name: np.diff(outlook.knives_by_week, axis=0, prepend=0.0)
        for name, outlook in outlooks.items()
    }
    return _weeks_table("product", started, weeks, (0.05, 0.5, 0.95))


def item_weeks_table(
    outlooks: dict[Hashable, ItemOutlook], weeks: Sequence[pd.Timestamp]
) -> pd.DataFrame:
    """Use from today to the end of each week, one row per item and week."""
    used = {name: outlook.use_by_week for name, outlook in outlooks.items()}
    return _weeks_table("item", used, weeks, (0.05, 0.5, 0.8, 0.95))


def items_table(
    items: pd.DataFrame,
    outlooks: dict[Hashable, ItemOutlook],
    lead_times: dict[Hashable, LeadTime],
    leads: dict[Hashable, np.ndarray],
    horizon_days: float,
) -> pd.DataFrame:
    """One row per item; columns as in forecasting.plan.ShopForecast."""
    rows = [
        _item_row(row, outlooks[row.item], lead_times[row.item], leads[row.item])
        for row in items.itertuples()
    ]
    table = pd.DataFrame(rows, columns=[name for name in ITEMS if name != "fill_by_order"])
    table["fill_by_order"] = _fill_curves(items, table, outlooks, leads, horizon_days)
    return table[ITEMS]


def _fill_curves(
    items: pd.DataFrame,
    table: pd.DataFrame,
    outlooks: dict[Hashable, ItemOutlook],
    leads: dict[Hashable, np.ndarray],
    horizon_days: float,
) -> list[list[list[float]]]:
    """Of a few items at a time: their futures take room."""
    asked, points, covers = list(items.itertuples()), table["reorder_point"], table["order_up_to"]
    covers = (covers - points).to_numpy()
    curves = []
    for start in range(0, len(asked), ITEMS_AT_ONCE):
        some = slice(start, start + ITEMS_AT_ONCE)
        imagined = [
            orders_imagined(row, outlooks[row.item], leads[row.item], horizon_days)
            for row in asked[some]
        ]
        curves += fills_by_order(imagined, points.to_numpy()[some], covers[some])
    return curves


def orders_imagined(
    row: tuple, outlook: ItemOutlook, lead_days: np.ndarray, horizon_days: float
) -> tuple[np.ndarray, np.ndarray]:
    """Use from an order to its arrival, and to that of the next look's order, in every future."""
    return between_deliveries(
        outlook.use_until, lead_days, review_days=row.review_days, horizon_days=horizon_days
    )


def _item_row(
    row: tuple, outlook: ItemOutlook, lead_time: LeadTime, lead_days: np.ndarray
) -> tuple:
    demand = outlook.use_until(lead_days + row.review_days)
    low, high, point = map(float, _quantiles(demand, (0.05, 0.95, row.service_level)))
    mean = float(demand.mean())
    point = max(point, mean)  # a use rarer than the service level asks for still has a mean
    per_week = _per_week(outlook.use_by_week)
    cover = per_week * max(row.review_days, COVER_DAYS) / 7
    lead_low, lead_high = map(float, _quantiles(lead_days, (0.05, 0.95)))
    return (
        row.item,
        outlook.pattern.name,
        outlook.model,
        outlook.history_periods,
        float(lead_days.mean()),
        lead_low,
        lead_high,
        lead_time.seen,
        per_week,
        mean,
        low,
        high,
        point,
        point - mean,
        point + cover,
        outlook.direct_level,
        outlook.note,
    )


def _per_week(cumulative: np.ndarray) -> float:
    return float(cumulative[-1].mean()) / len(cumulative)


def _quantiles(draws: np.ndarray, chances: Sequence[float]) -> list[np.ndarray]:
    """Smallest draw that at least that share of the draws does not exceed, along the last axis."""
    ascending, count = np.sort(draws, axis=-1), draws.shape[-1]
    return [ascending[..., math.ceil(chance * count - 1e-9) - 1] for chance in chances]


def _weeks_table(
    key: str,
    draws: dict[Hashable, np.ndarray],
    weeks: Sequence[pd.Timestamp],
    chances: tuple[float, ...],
) -> pd.DataFrame:
    names = [f"q{round(100 * chance):02d}" for chance in chances]
    rows = [
        np.column_stack([paths.mean(axis=-1), *_quantiles(paths, chances)])
        for paths in draws.values()
    ]
    numbers = np.concatenate(rows) if rows else np.zeros((0, 1 + len(names)))
    table = pd.DataFrame(numbers, columns=["mean", *names])
    table.insert(0, "week", list(weeks) * len(draws))
    table.insert(0, key, [name for name in draws for _ in weeks])
    return table
