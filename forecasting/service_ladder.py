"""Reorder points of every item at several chances of lasting, and the fill each would give."""

from collections.abc import Hashable, Sequence

import numpy as np
import pandas as pd

from forecasting.errors import require
from forecasting.forecast_tables import COVER_DAYS, orders_imagined
from forecasting.item_outlook import ItemOutlook

__all__ = ["fill_of_levels", "service_ladder"]

LADDER = ["item", "chance", "reorder_point", "order_up_to", "expected_fill"]
LOOKS_SETTLED, LOOKS, SHELVES = 40, 30, 50
"""Looks until a shelf's start is forgotten, looks taken into account, shelves imagined."""
LEVELS_APART = 40


def service_ladder(
    items: pd.DataFrame,
    outlooks: dict[Hashable, ItemOutlook],
    leads: dict[Hashable, np.ndarray],
    horizon_days: float,
    chances: Sequence[float],
) -> pd.DataFrame:
    """One row per item and chance: item, chance, reorder_point, order_up_to, expected_fill.

    The reorder point is the quantile of use until the delivery after the next look, not held above
    its mean as on the reorder list, so that low chances can be told apart. expected_fill is the
    share of use the item's futures meet from the shelf.
    Raises: OutOfRange.
    """
    for chance in chances:
        require(0 < chance < 1, "chance", "lie between 0 and 1 (write 0.95 for 95 %)", chance)
    rows = []
    for row in items.itertuples() if chances else ():
        outlook, lead = outlooks[row.item], leads[row.item]
        demand = outlook.use_until(lead + row.review_days)
        per_week = float(outlook.use_by_week[-1].mean()) / len(outlook.use_by_week)
        cover = per_week * max(row.review_days, COVER_DAYS) / 7
        arrived, served = orders_imagined(row, outlook, lead, horizon_days)
        points = np.quantile(demand, chances, method="inverted_cdf")
        fills = fill_of_levels(arrived, served, points + cover, cover)
        steps = zip(chances, points.tolist(), fills.tolist(), strict=True)
        rows += [(row.item, chance, point, point + cover, fill) for chance, point, fill in steps]
    return pd.DataFrame(rows, columns=LADDER)


def fill_of_levels(
    arrived: np.ndarray, served: np.ndarray, up_to: np.ndarray, gap: float
) -> np.ndarray:
    """Share of use met from the shelf when looks that find `gap` or more missing order up to a level.

    Use that comes in lumps larger than the gap brings the position back to the level at nearly every
    look, steady use spreads it evenly over the gap; how it lies is found by imagining many looks
    one after the other, each with the use of one future, independent of the look before.
    Args: arrived, served: use from an order to its delivery, and to that of the next look's, in
        every future. up_to: levels, any number.
    Source: short per look = E[(served - position)+] - E[(arrived - position)+], as for order-up-to
        with periodic review, any textbook of inventory control | from memory; the position by
        simulation is our own.
    Checked in: tests/forecasting/test_service_ladder.py
    """
    used = float((served - arrived).mean())
    if used <= 0:
        return np.ones(len(up_to))
    missing = _missing_after_looks((served - arrived).ravel(), gap)
    positions = np.subtract.outer(up_to, missing)
    short = _mean_excess(served.ravel(), positions) - _mean_excess(arrived.ravel(), positions)
    return np.clip(1 - short.mean(axis=1) / used, 0.0, 1.0)


def _missing_after_looks(use: np.ndarray, gap: float) -> np.ndarray:
    """What the position lacks to its level after a look, evenly spread over how it lies."""
    drawn = np.random.default_rng(0).choice(use, size=(LOOKS_SETTLED + LOOKS, SHELVES))
    missing, seen = np.zeros(SHELVES), []
    for taken in drawn:
        missing = missing + taken
        missing[missing >= gap] = 0.0
        seen.append(missing)
    return np.quantile(seen[LOOKS_SETTLED:], (np.arange(LEVELS_APART) + 0.5) / LEVELS_APART)


def _mean_excess(use: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Mean of (use - level)+ over the futures, for each level."""
    ascending = np.sort(use)
    beyond = np.append(np.cumsum(ascending[::-1])[::-1], 0.0)
    first = np.searchsorted(ascending, level)
    return (beyond[first] - level * (len(use) - first)) / len(use)
