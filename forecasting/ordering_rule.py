"""Plays an ordering rule over known demand, period by period: one item, or many at once."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forecasting.errors import require

__all__ = ["Levels", "Played", "PlayedMany", "play", "play_many"]


@dataclass(frozen=True)
class Levels:
    """Order when the position is at or below reorder_point, up to order_up_to.

    Numbers for one item, or arrays whose last axis is the item for many.
    """

    reorder_point: float | np.ndarray
    order_up_to: float | np.ndarray


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


@dataclass(frozen=True)
class PlayedMany:
    """What the rules would have led to, one entry per rule tried and item (the last axis).

    demand, served_at_once: of the periods counted; mean_stock, mean_waiting: means of their ends;
    periods_short, orders: how many. ordered, received, on_hand, waiting, on_order: over all periods
    played and at their end, so that whoever doubts can balance them.
    """

    demand: np.ndarray
    served_at_once: np.ndarray
    mean_stock: np.ndarray
    mean_waiting: np.ndarray
    periods_short: np.ndarray
    orders: np.ndarray
    ordered: np.ndarray
    received: np.ndarray
    on_hand: np.ndarray
    waiting: np.ndarray
    on_order: np.ndarray

    @property
    def fill_rate(self) -> np.ndarray:
        """Share of each item's demand served at once; 1 where nothing was asked for."""
        asked = np.where(self.demand > 0, self.demand, 1.0)
        return np.where(self.demand > 0, self.served_at_once / asked, 1.0)


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


def play_many(
    demand: np.ndarray,
    levels: Sequence[Levels],
    *,
    start: np.ndarray | float,
    lead: np.ndarray | int,
    review: np.ndarray | int = 1,
    not_counted: int = 0,
) -> PlayedMany:
    """Play many rules over many items at once, in the order of events of `play`.

    Args:
        demand: (items, periods). levels: one per period; arrays that broadcast to (..., items).
        start: on the shelf before the first period, the same shape. lead: periods from an order to
        its delivery: one number, or (..., items, periods) by the period of the order.
        review: periods between looks, one number or one per item.
        not_counted: first periods that are played but not counted, until the rule's own stock and
        orders stand.
    Raises: OutOfRange.
    Checked in: tests/published/test_ordering_rule.py, and against `play` in
        tests/forecasting/test_ordering_rule.py
    """
    items, periods = demand.shape
    require(len(levels) == periods, "levels", f"have {periods} periods", len(levels))
    require(0 <= not_counted < periods, "not_counted", f"be 0 to {periods - 1}", not_counted)
    require(np.min(lead) >= 0, "lead", "not be negative", np.min(lead))
    require(np.min(review) >= 1, "review", "be 1 period or more", np.min(review))
    leads, looks = np.asarray(lead, dtype=int), np.asarray(review)
    given = (np.shape(start), np.shape(levels[0].order_up_to), leads.shape[:-1])
    shelves = _Shelves(np.broadcast_shapes((items,), *given), start, int(leads.max()))
    for period, (wanted, level) in enumerate(zip(demand.T, levels, strict=True)):
        lead_now = leads[..., period] if leads.ndim else leads
        shelves.order(level, period % looks == 0, period, lead_now)
        shelves.receive(period)
        shelves.serve(wanted, is_counted=period >= not_counted)
    return shelves.played(demand[:, not_counted:].sum(axis=1), periods - not_counted)


class _Shelves:
    """Stock, orders under way and tallies of every rule and item."""

    def __init__(self, shape: tuple[int, ...], start: np.ndarray | float, longest: int) -> None:
        self.net = np.broadcast_to(np.asarray(start, dtype=float), shape).copy()
        self.arriving = np.zeros((longest + 1, *shape))
        self.on_order, self.ordered, self.received, self.quantity = np.zeros((4, *shape))
        self.stock, self.waiting, self.served, self.short, self.orders = np.zeros((5, *shape))

    def order(self, level: Levels, is_look: np.ndarray, period: int, lead: np.ndarray) -> None:
        position = self.net + self.on_order
        due = (position <= level.reorder_point) & is_look
        self.quantity = np.where(due, np.maximum(level.order_up_to - position, 0.0), 0.0)
        self.on_order += self.quantity
        self.ordered += self.quantity
        slots = len(self.arriving)
        if lead.ndim == 0:
            self.arriving[(period + int(lead)) % slots] += self.quantity
            return
        slot = np.broadcast_to((period + lead) % slots, self.net.shape).ravel()
        sent = np.flatnonzero(self.quantity)
        self.arriving.reshape(slots, -1)[slot[sent], sent] += self.quantity.ravel()[sent]

    def receive(self, period: int) -> None:
        delivered = self.arriving[period % len(self.arriving)]
        self.net += delivered
        self.on_order -= delivered
        self.received += delivered
        delivered[...] = 0.0

    def serve(self, wanted: np.ndarray, *, is_counted: bool) -> None:
        at_once = np.minimum(wanted, np.maximum(self.net, 0.0))
        self.net -= wanted
        if is_counted:
            self.served += at_once
            self.orders += self.quantity > 0
            self.stock += np.maximum(self.net, 0.0)
            self.waiting += np.maximum(-self.net, 0.0)
            self.short += self.net < 0

    def played(self, demand: np.ndarray, counted: int) -> PlayedMany:
        return PlayedMany(
            demand=np.broadcast_to(demand, self.net.shape),
            served_at_once=self.served,
            mean_stock=self.stock / counted,
            mean_waiting=self.waiting / counted,
            periods_short=self.short,
            orders=self.orders,
            ordered=self.ordered,
            received=self.received,
            on_hand=np.maximum(self.net, 0.0),
            waiting=np.maximum(-self.net, 0.0),
            on_order=self.on_order,
        )
