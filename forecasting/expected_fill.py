"""What an ordering rule leads to in the imagined futures: use met from the shelf, stock kept."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from forecasting.errors import require

__all__ = ["Shelf", "between_deliveries", "fill_by_order", "shelf"]

STARTS, DAYS_APART = 4, 28
"""Deliveries are looked at after orders today and every four weeks: lumps fall here or there."""
ORDER_SIZES = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
LOOKS_SETTLED, LOOKS, EVERY, SHELVES = 40, 30, 3, 200
"""Looks until a shelf's start is forgotten, looks after that, of which every so-manieth is taken
into account, and shelves imagined."""


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


def shelf(
    arrived: np.ndarray, served: np.ndarray, *, point: float, order: float, cover: float = 0.0
) -> Shelf:
    """Fill and mean stock when a look that finds the position at `point` or below orders.

    It orders `order`, or what brings the position `cover` above the point if that is more. How the
    position lies after a look is found by imagining many looks one after the other: lumps larger
    than the order bring it back to its top each time, steady use spreads it evenly. What of the use
    between two arrivals exceeds it waits.
    Args: as from between_deliveries; order above 0.
    Raises: OutOfRange.
    Source: short per look = E[(served - position)+] - E[(arrived - position)+], e.g. Hadley &
        Whitin (1963), Analysis of Inventory Systems, ch. 5 | from memory; over sampled futures and
        imagined looks: our own.
    Checked in: tests/forecasting/test_expected_fill.py
    """
    require(order > 0, "order", "be above 0", order)
    return _shelves(arrived, served, point, np.array([order]), cover)[0]


def fill_by_order(
    arrived: np.ndarray, served: np.ndarray, *, point: float, cover: float
) -> list[list[float]]:
    """[[order quantity, fill], ...] ascending, around what covers the usual time; empty without."""
    if cover <= 0:
        return []
    orders = cover * np.array(ORDER_SIZES)
    return [
        [float(f"{order:.6g}"), round(kept.fill, 5)]
        for order, kept in zip(orders, _shelves(arrived, served, point, orders, cover), strict=True)
    ]


def _shelves(
    arrived: np.ndarray, served: np.ndarray, point: float, orders: np.ndarray, cover: float
) -> list[Shelf]:
    """One for each order quantity, all with the same imagined looks."""
    used = float((served - arrived).mean())
    above = _above_after_looks((served - arrived).ravel(), orders, np.minimum(orders, cover))
    waits, gone = (_mean_excess(use.ravel(), point + above) for use in (served, arrived))
    fills = (
        np.clip(1 - (waits - gone).mean(axis=1) / used, 0.0, 1.0)
        if used > 0
        else [1.0] * len(orders)
    )
    means = (arrived.mean() + served.mean()) / 2
    stocks = (point + above + (waits + gone) / 2).mean(axis=1) - means
    return [Shelf(float(fill), float(stock)) for fill, stock in zip(fills, stocks, strict=True)]


def _above_after_looks(use: np.ndarray, orders: np.ndarray, covers: np.ndarray) -> np.ndarray:
    """How far the position lies above the point after a look; a row an order.

    Shelves start evenly spread over the order, so that slow ones needn't settle first; every look
    hands the same evenly spread uses out among them.
    """
    even = (np.arange(SHELVES) + 0.5) / SHELVES
    uses = np.tile(np.quantile(use, even), (LOOKS_SETTLED + LOOKS, 1))
    drawn = np.random.default_rng(0).permuted(uses, axis=1)
    above, seen = np.outer(orders, even), []
    for taken in drawn:
        above = above - taken
        filled = np.maximum(above + orders[:, None], covers[:, None])
        above = np.where(above <= 0, filled, above)
        seen.append(above)
    return np.concatenate(seen[LOOKS_SETTLED::EVERY], axis=1)


def _mean_excess(use: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Mean of (use - level)+ over the futures, for each level."""
    ascending = np.sort(use)
    beyond = np.append(np.cumsum(ascending[::-1])[::-1], 0.0)
    first = np.searchsorted(ascending, level)
    return (beyond[first] - level * (len(use) - first)) / len(use)
