"""Items of one supplier share an order's fee: what rides along, and how often to order together.

Quick on purpose (standard library only): a page asks it for every supplier it shows.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from forecasting.errors import require

__all__ = [
    "JointRhythm",
    "RidesAlong",
    "SharedItem",
    "Waiting",
    "common_rhythm",
    "ride_along",
]

WEEKS_A_YEAR = 52
PAIRS_AMONG = 8
"""Items that come due soonest, of which pairs are tried: all pairs of a large supplier take long."""


@dataclass(frozen=True)
class SharedItem:
    """An item of a supplier. fee: money each order line of it costs; holding: a unit and year."""

    fee: float
    use_per_year: float
    holding: float

    @property
    def carried(self) -> float:
        """Money a year for keeping it if all of a year's use came at once, times two."""
        return self.use_per_year * self.holding


@dataclass(frozen=True)
class JointRhythm:
    """interval: years between orders; multiples: every how many orders each item is on it.

    cost: money a year for fees and for keeping stock.
    """

    interval: float
    multiples: tuple[int, ...]
    cost: float


def common_rhythm(order_fee: float, items: Sequence[SharedItem]) -> JointRhythm:
    """The interval and the whole multiples of it at which all items together cost least.

    Exact: between two intervals at which an item changes its multiple, the best interval is that
    of an economic order; each of these stretches is looked at.
    Args: order_fee: money each order costs whatever is on it, above 0.
    Raises: OutOfRange.
    Source: E. A. Silver (1976), A simple method of determining order quantities in joint
        replenishments, for the cost; the search after S. K. Goyal (1974) | both from memory.
    Checked in: tests/published/test_joint_orders.py
    """
    require(order_fee > 0, "order_fee", "be above 0", order_fee)
    require(bool(items), "items", "hold one item at least", len(items))
    for item in items:
        require(item.carried > 0, "use and holding", "be above 0", item)
        require(item.fee >= 0, "fee", "not be negative", item.fee)
    longest = _rhythm(order_fee, items, [1] * len(items))
    best = _settled(order_fee, items, longest)
    # No interval makes an item's own fee and keeping cost less than an order of it alone would.
    alone = sum(math.sqrt(2 * item.fee * item.carried) for item in items)
    shortest = order_fee / (best.cost - alone)
    for interval in _turning_points(items, shortest, longest.interval):
        found = _rhythm(order_fee, items, [_multiple(item, interval) for item in items])
        best = min(best, found, key=lambda rhythm: rhythm.cost)
    return best


def _rhythm(order_fee: float, items: Sequence[SharedItem], multiples: list[int]) -> JointRhythm:
    pairs = list(zip(items, multiples, strict=True))
    fees = order_fee + sum(item.fee / multiple for item, multiple in pairs)
    carried = sum(item.carried * multiple for item, multiple in pairs)
    interval = math.sqrt(2 * fees / carried)
    return JointRhythm(interval, tuple(multiples), fees / interval + carried * interval / 2)


def _settled(order_fee: float, items: Sequence[SharedItem], rhythm: JointRhythm) -> JointRhythm:
    """Multiples that go with the interval, the interval that goes with them, until both stay."""
    while True:
        multiples = [_multiple(item, rhythm.interval) for item in items]
        found = _rhythm(order_fee, items, multiples)
        if found.cost >= rhythm.cost * (1 - 1e-12):
            return rhythm
        rhythm = found


def _multiple(item: SharedItem, interval: float) -> int:
    """Least m with m (m + 1) >= 2 fee / (carried interval²): the best one at this interval."""
    ratio = 2 * item.fee / (item.carried * interval**2)
    return max(1, math.ceil((math.sqrt(1 + 4 * ratio) - 1) / 2 - 1e-9))


def _turning_points(items: Sequence[SharedItem], shortest: float, longest: float) -> list[float]:
    """Intervals from shortest to longest at which some item goes to its next multiple."""
    points = {shortest, longest}
    for item in items:
        multiple = 1
        while (point := _changes_at(item, multiple)) > shortest:
            # A hair to the left: the next multiple is in force there.
            points |= {point * (1 - 1e-7), point * (1 + 1e-7)}
            multiple += 1
    return sorted(point for point in points if shortest <= point <= longest * (1 + 1e-6))


def _changes_at(item: SharedItem, multiple: int) -> float:
    return math.sqrt(2 * item.fee / (item.carried * multiple * (multiple + 1)))


@dataclass(frozen=True)
class Waiting:
    """An item of the supplier as it stands after today's order.

    due: chance that it is at its reorder point by the end of each week ahead, never falling.
    value: money an order of it now takes; 0: it isn't offered the ride.
    """

    name: str
    due: tuple[float, ...]
    value: float = 0.0


@dataclass(frozen=True)
class RidesAlong:
    """One item, or two together, worth adding to today's order.

    alone: chance that a fee would be paid for them before the supplier's next order. weeks_early:
    weeks that they come before they would have. saves: money, fee spared less keeping them.
    """

    names: tuple[str, ...]
    alone: float
    weeks_early: float
    keeping: float
    saves: float


def ride_along(
    items: Sequence[Waiting], *, order_fee: float, holding_rate: float
) -> list[RidesAlong]:
    """Items worth adding to an order that goes out today anyway, the best first.

    An item not added costs a fee of its own if it comes due before all others of the supplier;
    otherwise it rides with them then. Added, its money lies on the shelf from today instead of
    from the supplier's next order. The best is added, then the others are judged anew: what was
    added comes due no more within sight. Two that come due together ride together or not at all.
    Items come due independently (assumption).
    Args: holding_rate: yearly cost of keeping stock as a share of its value.
    Raises: OutOfRange.
    Source: can-order level of J. L. Balintfy (1964), On a basic class of multi-item inventory
        problems | from memory; the comparison of fee and keeping is our own.
    Checked in: tests/forecasting/test_joint_orders.py
    """
    require(order_fee >= 0, "order_fee", "not be negative", order_fee)
    require(holding_rate >= 0, "holding_rate", "not be negative", holding_rate)
    require(len({len(item.due) for item in items}) <= 1, "due", "be equally long", "not")
    waiting, added = list(items), []
    while best := _best_ride(waiting, order_fee, holding_rate):
        added.append(best)
        waiting = [_on_board(item) if item.name in best.names else item for item in waiting]
    return added


def _best_ride(
    waiting: Sequence[Waiting], order_fee: float, holding_rate: float
) -> RidesAlong | None:
    offered = sorted((item for item in waiting if item.value > 0), key=lambda item: -sum(item.due))
    for together, among in ((1, offered), (2, offered[:PAIRS_AMONG])):
        judged = [
            _judge(riders, waiting, order_fee, holding_rate)
            for riders in combinations(among, together)
        ]
        best = max(judged, key=lambda found: found.saves, default=None)
        if best is not None and best.saves > 0:
            return best
    return None


def _on_board(item: Waiting) -> Waiting:
    return replace(item, due=(0.0,) * len(item.due), value=0.0)


def _judge(
    riders: Sequence[Waiting], waiting: Sequence[Waiting], order_fee: float, holding_rate: float
) -> RidesAlong:
    others = _none_due([item for item in waiting if item not in riders], riders[0].due)
    quiet = _none_due(riders, riders[0].due)
    due_now = [before - now for before, now in zip((1.0, *quiet), quiet, strict=False)]
    alone = sum(due * other for due, other in zip(due_now, others, strict=True))
    weeks = 1 + sum(own * other for own, other in zip(quiet, others, strict=True))
    keeping = sum(rider.value for rider in riders) * holding_rate * weeks / WEEKS_A_YEAR
    names = tuple(rider.name for rider in riders)
    return RidesAlong(names, alone, weeks, keeping, order_fee * alone - keeping)


def _none_due(items: Sequence[Waiting], weeks: Sequence[float]) -> list[float]:
    """Chance that none of the items is due by the end of each week."""
    return [math.prod(1 - item.due[week] for item in items) for week in range(len(weeks))]
