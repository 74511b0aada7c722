"""Levels of a whole table that meet a share of all its demand with the least stock."""

from collections.abc import Sequence

import numpy as np

from forecasting.count_demand import CountHabits
from forecasting.errors import require
from forecasting.fill_tables import FillTable, fill_tables

__all__ = ["allocated_levels", "levels_for_total_fill"]

ALWAYS_GONE = 1e-12
"""Chance below which a unit is never left on the shelf at the next delivery: it costs nothing."""


def levels_for_total_fill(
    counts: np.ndarray,
    targets: Sequence[float],
    *,
    lead: int,
    review: int = 1,
    worth: np.ndarray | None = None,
    cost: np.ndarray | None = None,
    habits: CountHabits | None = None,
) -> np.ndarray:
    """Levels of all series that together are expected to meet a share of the demand of all.

    As allocated_levels, under the distribution of forecasting.sum_quantiles.
    Shapes: counts (series, periods), NaN where not known; the result (series, targets).
    Raises: OutOfRange.
    """
    tables = list(fill_tables(counts, lead, review, habits))
    return allocated_levels(tables, targets, worth=worth, cost=cost)


def allocated_levels(
    tables: Sequence[FillTable],
    targets: Sequence[float],
    *,
    worth: np.ndarray | None = None,
    cost: np.ndarray | None = None,
) -> np.ndarray:
    """Units are added where the next one meets most demand for the stock it will leave.

    One more unit at level n meets P(D(L) <= n) - P(D(L+R) <= n) more of the demand between two
    reviews, and lies there at the next delivery with a chance of P(D(L+R) <= n). Steady demand so
    gets a higher chance of lasting than lumpy demand does, and what is rarely asked for may get no
    stock at all.
    Args: tables: of all series. worth: of a unit met, per series, 1 without; cost: of a unit kept.
        For a share of money give the unit cost as both: it then cancels out between series.
    Shapes: the result (series, targets), the least levels of their kind that reach each target.
    Raises: OutOfRange.
    Source: marginal analysis, one Lagrange multiplier for all items: Everett (1963), Generalized
        Lagrange multiplier method; Sherbrooke (2004), Optimal Inventory Modeling of Systems, ch. 2
        | from memory. With stock left over as the cost: our own, by the same argument.
    Checked in: tests/forecasting/test_fill_allocation.py
    """
    for target in targets:
        require(0 < target < 1, "target", "lie between 0 and 1 (write 0.95 for 95 %)", target)
    series = sum(len(table.rows) for table in tables)
    worth, cost = (np.ones(series) if each is None else each for each in (worth, cost))
    paid = [_met_for_kept(table) * (worth / cost)[table.rows, None] for table in tables]
    prices = _prices(tables, paid, targets, worth)
    result = np.zeros((series, len(targets)))
    for table, each in zip(tables, paid, strict=True):
        for column, price in enumerate(prices):
            result[table.rows, column] = table.step * (each >= price).sum(axis=1)
    return result


def _met_for_kept(table: FillTable) -> np.ndarray:
    """Demand met for a unit of stock left, by the unit that raises each level; never rising."""
    kept = table.within_protected
    met = np.maximum(table.within_lead - kept, 0.0)
    ratio = np.where(kept > ALWAYS_GONE, met / np.maximum(kept, ALWAYS_GONE), np.inf)
    return np.minimum.accumulate(ratio, axis=1)


def _prices(
    tables: Sequence[FillTable],
    paid: Sequence[np.ndarray],
    targets: Sequence[float],
    worth: np.ndarray,
) -> list[float]:
    """What the last unit bought for each target pays; all that pay as much are bought."""
    if not tables:
        return [np.inf for _ in targets]
    demand = [table.demand * worth[table.rows] for table in tables]
    gains = np.concatenate(
        [
            (np.diff(table.fill, axis=1) * asked[:, None]).ravel()
            for table, asked in zip(tables, demand, strict=True)
        ]
    )
    at_nothing = sum(
        float(table.fill[:, 0] @ asked) for table, asked in zip(tables, demand, strict=True)
    )
    offered = np.concatenate([each.ravel() for each in paid])
    dearest_first = np.argsort(-offered, kind="stable")
    reached = at_nothing + np.cumsum(gains[dearest_first])
    total = sum(float(asked.sum()) for asked in demand)
    bought = np.searchsorted(reached, np.array(targets) * total)
    return [
        np.inf if at_nothing >= target * total else float(offered[dearest_first[last]])
        for target, last in zip(targets, np.minimum(bought, len(offered) - 1), strict=True)
    ]
