"""What an ordering rule leads to in the imagined futures: use met from the shelf, stock kept."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from forecasting.errors import require

__all__ = ["Shelf", "between_deliveries", "fill_by_order", "shelf"]

STARTS, DAYS_APART = 4, 28
"""Deliveries are looked at after orders today and every four weeks: lumps fall here or there."""
ORDER_SIZES = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)


@dataclass(frozen=True)
class Shelf:
    """fill: share of use met from the shelf at once. mean_stock: on hand on average, stock units."""

    fill: float
    mean_stock: float


def between_deliveries(
    use_until: Callable[[np.ndarray], np.ndarray],
    lead_days: np.ndarray,
    *,
    review_days: float,
    horizon_days: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Use from an order until it arrives, and until the next look's order would; a row a start.

    Args: use_until: stock units used up to and including a day, per path, for a day per path.
    """
    span = max(review_days, 1.0)
    room = horizon_days - float(lead_days.max(initial=0.0)) - span
    starts = [DAYS_APART * number for number in range(STARTS) if DAYS_APART * number <= room]
    arrived, served = [], []
    for start in starts or [0]:
        gone = use_until(np.full(len(lead_days), float(start))) if start else 0.0
        arrived.append(use_until(start + lead_days) - gone)
        served.append(use_until(start + lead_days + span) - gone)
    return np.stack(arrived), np.stack(served)


def shelf(arrived: np.ndarray, served: np.ndarray, *, point: float, order: float) -> Shelf:
    """Fill and mean stock when each look orders whole lots of `order` to rise above `point`.

    The position after a look is then spread evenly over point to point + order; what of the use
    between two arrivals exceeds it waits.
    Args: as from between_deliveries; order above 0.
    Raises: OutOfRange.
    Source: Hadley & Whitin (1963), Analysis of Inventory Systems, nQ policy under periodic review
        | from memory; taken over sampled futures: our own.
    Checked in: tests/forecasting/test_expected_fill.py
    """
    require(order > 0, "order", "be above 0", order)
    used = float((served - arrived).mean())
    stock = _left(arrived, point, order) / 2 + _left(served, point, order) / 2
    if used <= 0:
        return Shelf(1.0, stock)
    waiting = _short(served, point, order) - _short(arrived, point, order)
    return Shelf(min(1.0, max(0.0, 1 - waiting / used)), stock)


def fill_by_order(
    arrived: np.ndarray, served: np.ndarray, *, point: float, usual: float
) -> list[list[float]]:
    """[[order quantity, fill], ...] ascending, around a usual order; empty without a usual one."""
    if usual <= 0:
        return []
    orders = [usual * size for size in ORDER_SIZES]
    return [
        [float(f"{order:.6g}"), round(shelf(arrived, served, point=point, order=order).fill, 5)]
        for order in orders
    ]


def _short(used: np.ndarray, point: float, order: float) -> float:
    """Mean of (use - position)+ with the position even over point to point + order."""
    low, high = np.maximum(used - point, 0.0), np.maximum(used - point - order, 0.0)
    return float((low**2 - high**2).mean()) / (2 * order)


def _left(used: np.ndarray, point: float, order: float) -> float:
    """Mean of (position - use)+, likewise."""
    high, low = np.maximum(point + order - used, 0.0), np.maximum(point - used, 0.0)
    return float((high**2 - low**2).mean()) / (2 * order)
