"""Plays an ordering rule over known demand, period by period."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from forecasting.errors import require

__all__ = ["Levels", "Played", "play"]


@dataclass(frozen=True)
class Levels:
    """Order when the position is at or below reorder_point, up to order_up_to."""

    reorder_point: float
    order_up_to: float


@dataclass(frozen=True)
class Played:
    """What the rule would have led to; stock and waiting demand are means of period ends.

    fill_rate: share of demand served at once. periods_short: periods that ended with demand
    waiting. orders: orders placed.
    """

    fill_rate: float
    mean_stock: float
    mean_waiting: float
    periods_short: int
    orders: int


def play(
    demand: Sequence[float],
    levels: Sequence[Levels],
    *,
    start: float,
    lead: int,
    review: int = 1,
) -> Played:
    """Order, receive, serve, and let what is short wait for the next delivery.

    Each period starts with receipts and, every `review` periods, with an order that arrives
    `lead` periods later, before that period's demand; so stock must last lead + review periods.
    Args: levels: one per period of demand; start: stock on hand before the first period.
    Raises: OutOfRange.
    Source: order of events as in Snyder & Shen (2019), Fundamentals of Supply Chain Theory, ch. 4.
    Checked in: tests/published/test_ordering_rule.py
    """
    require(len(levels) == len(demand), "levels", f"have {len(demand)} periods", len(levels))
    require(len(demand) > 0, "demand", "have at least one period", 0)
    require(lead >= 0, "lead", "not be negative", lead)
    require(review >= 1, "review", "be 1 period or more", review)
    on_order = deque([0.0] * lead)
    net = start
    stock = waiting = served = 0.0
    short = orders = 0
    for period, (wanted, level) in enumerate(zip(demand, levels, strict=True)):
        quantity = _order(net + sum(on_order), level) if period % review == 0 else 0.0
        orders += quantity > 0
        on_order.append(quantity)
        net += on_order.popleft()
        served += min(wanted, max(net, 0.0))
        net -= wanted
        stock += max(net, 0.0)
        waiting += max(-net, 0.0)
        short += net < 0
    total, periods = sum(demand), len(demand)
    fill = served / total if total > 0 else 1.0
    return Played(fill, stock / periods, waiting / periods, short, orders)


def _order(position: float, level: Levels) -> float:
    return max(0.0, level.order_up_to - position) if position <= level.reorder_point else 0.0
