"""Reorder points of every item at several chances of lasting, and the fill each would give."""

from collections.abc import Hashable, Sequence

import numpy as np
import pandas as pd

from forecasting.errors import require
from forecasting.expected_fill import fill_of_levels
from forecasting.forecast_tables import COVER_DAYS, orders_imagined
from forecasting.item_outlook import ItemOutlook

__all__ = ["service_ladder"]

LADDER = ["item", "chance", "reorder_point", "order_up_to", "expected_fill"]


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
