"""What an ordering rule leads to in the imagined futures: use met from the shelf, stock kept."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from forecasting.errors import require

__all__ = ["Shelf", "between_deliveries", "fill_of_levels", "fills_by_order", "shelf"]

STARTS, DAYS_APART = 4, 28
"""Deliveries are looked at after orders today and every four weeks: lumps fall here or there."""
ORDER_SIZES = (0.25, 0.5, 1.0, 1.5, 2.0, 4.0, 8.0, 16.0)
LOOKS_SETTLED, LOOKS, EVERY, SHELVES, EACH = 20, 20, 5, 200, 4
"""Looks that find use until a shelf's start is forgotten, such looks after that, of which every
so-manieth is taken into account, and shelves imagined; in order, one stands for so many."""


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

    Args: use_until: stock units used up to and including days, per path, for days (..., paths).
    """
    span = max(review_days, 1.0)
    room = horizon_days - float(lead_days.max(initial=0.0)) - span
    starts = DAYS_APART * np.arange(STARTS)
    start = starts[(starts <= room) | (starts == 0), None]
    placed = np.broadcast_to(start, (len(start), len(lead_days)))
    gone, arrived, served = use_until(
        np.stack([placed, placed + lead_days, placed + lead_days + span])
    )
    gone[0] = 0.0  # an order today still sees all of today
    return arrived - gone, served - gone


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
    return _shelves([(arrived, served)], [point], np.array([[order]]), np.array([[cover]]))[0][0]


def fill_of_levels(
    arrived: np.ndarray, served: np.ndarray, up_to: np.ndarray, gap: float
) -> np.ndarray:
    """Share of use met when looks that find `gap` or more missing order up to a level.

    Args: as for shelf; up_to: levels, any number; gap above 0.
    """
    above = _above_after_looks([served - arrived], np.array([[gap]]), np.array([[gap]]))[0]
    shelves = _shelves_of_item(arrived, served, np.subtract.outer(up_to, gap - above[0]))
    return np.array([kept.fill for kept in shelves])


def fills_by_order(
    imagined: Sequence[tuple[np.ndarray, np.ndarray]],
    points: Sequence[float],
    covers: Sequence[float],
) -> list[list[list[float]]]:
    """[[order quantity, fill], ...] of each item, ascending, around what covers the usual time.

    Empty for an item without use. Args: imagined: (arrived, served) of each item.
    """
    used = [n for n, cover in enumerate(covers) if cover > 0]
    curves: list[list[list[float]]] = [[] for _ in covers]
    if not used:
        return curves
    cover = np.array([covers[n] for n in used])[:, None]
    orders = cover * np.array(ORDER_SIZES)
    kept = _shelves([imagined[n] for n in used], [points[n] for n in used], orders, cover)
    for n, quantities, shelves in zip(used, orders, kept, strict=True):
        curves[n] = [
            [float(f"{order:.6g}"), round(shelf.fill, 5)]
            for order, shelf in zip(quantities, shelves, strict=True)
        ]
    return curves


def _shelves(
    imagined: Sequence[tuple[np.ndarray, np.ndarray]],
    points: Sequence[float],
    orders: np.ndarray,
    covers: np.ndarray,
) -> list[list[Shelf]]:
    """One for each item (row) and order quantity, all with the same imagined looks."""
    uses = [served - arrived for arrived, served in imagined]
    above = _above_after_looks(uses, orders, np.minimum(orders, covers))
    return [
        _shelves_of_item(arrived, served, point + over)
        for (arrived, served), point, over in zip(imagined, points, above, strict=True)
    ]


def _shelves_of_item(arrived: np.ndarray, served: np.ndarray, positions: np.ndarray) -> list[Shelf]:
    used = float((served - arrived).mean())
    waits, gone = (_mean_excess(use.ravel(), positions) for use in (served, arrived))
    fills = (
        np.clip(1 - (waits - gone).mean(axis=1) / used, 0.0, 1.0)
        if used > 0
        else np.ones(len(positions))
    )
    means = (arrived.mean() + served.mean()) / 2
    stocks = (positions + (waits + gone) / 2).mean(axis=1) - means
    return [Shelf(float(fill), float(stock)) for fill, stock in zip(fills, stocks, strict=True)]


def _above_after_looks(
    uses: Sequence[np.ndarray], orders: np.ndarray, covers: np.ndarray
) -> np.ndarray:
    """How far positions lie above the point after a look, ascending: (items, orders, positions).

    Shelves start evenly spread over the order, so that slow ones needn't settle first; every look
    hands the same evenly spread uses out among them. Only looks that find use are imagined: the
    others change nothing, and where use is rare, a start would not be forgotten for years of them.
    """
    even = (np.arange(SHELVES) + 0.5) / SHELVES
    spread = np.stack([_spread_evenly(use, even) for use in uses]).astype(np.float32)
    looks = np.tile(np.arange(SHELVES), (LOOKS_SETTLED + LOOKS, 1))
    order = orders[..., None].astype(np.float32)
    cover = np.broadcast_to(covers[..., None], (*orders.shape, SHELVES)).astype(np.float32)
    above, seen = order * even.astype(np.float32), []
    for number, handed_out in enumerate(np.random.default_rng(0).permuted(looks, axis=1)):
        above -= spread[:, None, handed_out]
        filled = above + order
        np.maximum(filled, cover, out=filled)
        np.copyto(above, filled, where=above <= 0)
        if number >= LOOKS_SETTLED and (number - LOOKS_SETTLED) % EVERY == 0:
            seen.append(above.copy())
    in_order = np.sort(np.concatenate(seen, axis=-1), axis=-1)  # looked up much faster so
    return in_order[..., EACH // 2 :: EACH].astype(float)


def _spread_evenly(use: np.ndarray, even: np.ndarray) -> np.ndarray:
    """Uses that stand for all those above 0: a look that finds none leaves the shelf as it is."""
    used = np.sort(use[use > 0])
    return used[(even * len(used)).astype(int)] if used.size else np.zeros_like(even)


def _mean_excess(use: np.ndarray, level: np.ndarray) -> np.ndarray:
    """Mean of (use - level)+ over the futures, for each level."""
    ascending = np.sort(use)
    beyond = np.append(np.cumsum(ascending[::-1])[::-1], 0.0)
    first = np.searchsorted(ascending, level)
    return (beyond[first] - level * (len(use) - first)) / len(use)
