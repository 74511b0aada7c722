"""Lots for a known need: which periods one order should cover, its fee weighed against keeping.

Quick on purpose (standard library only): a page asks it for the record it shows.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from forecasting.errors import require

__all__ = [
    "LotPlan",
    "joined_packs",
    "least_unit_cost",
    "part_period_balancing",
    "plan_cost",
    "silver_meal",
    "wagner_whitin",
]


@dataclass(frozen=True)
class LotPlan:
    """lots: what comes in, one number a period, in time for its need. cost: money for the plan."""

    lots: tuple[float, ...]
    cost: float


def plan_cost(
    lots: Sequence[float],
    demand: Sequence[float],
    *,
    fee: float | Sequence[float],
    holding: float,
    unit_price: float | Sequence[float] = 0.0,
) -> float:
    """Money for orders, for what is left at the end of each period, and for the goods.

    Args: fee, unit_price: of an order and of a unit, one number or one a period; holding: money
        for keeping a unit for a period.
    Raises: OutOfRange if a number is negative, or if a period is not served.
    """
    _check(demand, fee, holding, unit_price)
    require(len(lots) == len(demand), "lots", f"have {len(demand)} periods", len(lots))
    received, used = list(accumulate(lots)), list(accumulate(demand))
    left = [come - gone for come, gone in zip(received, used, strict=True)]
    require(min(left, default=0) >= 0, "lots", "serve the demand of each period", list(lots))
    fees, prices = _each(fee, len(lots)), _each(unit_price, len(lots))
    orders = sum(
        (fee if lot else 0) + price * lot
        for lot, fee, price in zip(lots, fees, prices, strict=True)
    )
    return orders + holding * sum(left)


def wagner_whitin(
    demand: Sequence[float],
    *,
    fee: float | Sequence[float],
    holding: float,
    unit_price: float | Sequence[float] = 0.0,
) -> LotPlan:
    """The cheapest plan there is, when nothing is there at first: exact.

    Args: as plan_cost.
    Raises: OutOfRange if a number is negative.
    Source: H. M. Wagner & T. M. Whitin (1958), Dynamic version of the economic lot size model,
        Management Science 5: some cheapest plan orders only when nothing is left.
    Checked in: tests/published/test_lot_sizing.py
    """
    _check(demand, fee, holding, unit_price)
    fees, prices = _each(fee, len(demand)), _each(unit_price, len(demand))
    best: list[tuple[float, int]] = [(0.0, 0)]
    for end in range(1, len(demand) + 1):
        qty = kept = 0.0
        ways = []
        for start in reversed(range(end)):
            kept += holding * qty
            qty += demand[start]
            order = (fees[start] if qty else 0.0) + prices[start] * qty
            ways.append((best[start][0] + order + kept, start))
        best.append(min(ways, key=lambda way: way[0]))
    return LotPlan(_lots_back(demand, [start for _, start in best]), best[-1][0])


def _lots_back(demand: Sequence[float], starts: Sequence[int]) -> tuple[float, ...]:
    """starts: for each number of periods served, the period whose order serves the last of them."""
    lots = [demand[0] * 0] * len(demand) if demand else []
    end = len(demand)
    while end:
        start = starts[end]
        lots[start] = sum(demand[start:end])
        end = start
    return tuple(lots)


def silver_meal(demand: Sequence[float], *, fee: float, holding: float) -> LotPlan:
    """An order covers periods as long as its cost a period falls.

    Args, Raises: as plan_cost, one fee for all periods.
    Source: E. A. Silver & H. C. Meal (1973), A heuristic for selecting lot size quantities,
        Production and Inventory Management 14 | from memory.
    Checked in: tests/published/test_lot_sizing.py
    """

    def periods(ahead: Sequence[float]) -> int:
        kept = _kept(ahead, holding)
        return _before_it_rises([(fee + cost) / count for count, cost in enumerate(kept, start=1)])

    return _one_after_another(demand, periods, fee, holding)


def least_unit_cost(demand: Sequence[float], *, fee: float, holding: float) -> LotPlan:
    """An order covers periods as long as its cost a unit falls.

    Args, Raises: as silver_meal.
    Source: S. Nahmias, Production and Operations Analysis, lot sizing | from memory.
    Checked in: tests/published/test_lot_sizing.py
    """

    def periods(ahead: Sequence[float]) -> int:
        kept = _kept(ahead, holding)
        units = accumulate(ahead)
        return _before_it_rises([(fee + cost) / qty for cost, qty in zip(kept, units, strict=True)])

    return _one_after_another(demand, periods, fee, holding)


def part_period_balancing(demand: Sequence[float], *, fee: float, holding: float) -> LotPlan:
    """An order covers the periods for which keeping costs nearest to the fee.

    Convention: of the last count of periods within the fee and the first beyond it, the nearer.
    Args, Raises: as silver_meal.
    Source: S. Nahmias, Production and Operations Analysis, lot sizing | from memory.
    Checked in: tests/published/test_lot_sizing.py
    """

    def periods(ahead: Sequence[float]) -> int:
        kept = _kept(ahead, holding)
        within = sum(cost <= fee for cost in kept)
        if within == len(kept):
            return within
        return within + (kept[within] - fee < fee - kept[within - 1])

    return _one_after_another(demand, periods, fee, holding)


def _one_after_another(
    demand: Sequence[float],
    periods: Callable[[Sequence[float]], int],
    fee: float,
    holding: float,
) -> LotPlan:
    """periods: how many an order should cover, of the demand from its own on."""
    _check(demand, fee, holding, 0.0)
    lots, start = [demand[0] * 0] * len(demand) if demand else [], 0
    while start < len(demand):
        count = periods(demand[start:]) if demand[start] else 1
        lots[start] = sum(demand[start : start + count])
        start += count
    return LotPlan(tuple(lots), plan_cost(lots, demand, fee=fee, holding=holding))


def _kept(ahead: Sequence[float], holding: float) -> list[float]:
    """Money for keeping what an order brings, by the number of periods it covers."""
    return list(accumulate(holding * waits * qty for waits, qty in enumerate(ahead)))


def _before_it_rises(costs: Sequence[float]) -> int:
    pairs = zip(costs, costs[1:], strict=False)
    rises = (count for count, (now, after) in enumerate(pairs, start=1) if after > now)
    return next(rises, len(costs))


def joined_packs(
    needs: Sequence[int],
    *,
    fee: float,
    holding: float,
    minimum: int = 1,
    most: Sequence[float] | None = None,
) -> tuple[int, ...]:
    """The cheapest orders in whole packs when an order has a minimum and stock has a limit: exact.

    Orders are placed only when packs are missing, and what a minimum brings too much serves the
    periods that follow. An order ends where a period's need ends or is the minimum: one pack less
    now and more next time would cost no more otherwise. Of equally cheap plans the latest.

    Args:
        needs: packs that must newly be there in each period.
        fee: money an order; holding: money a pack and period. minimum: fewest packs an order.
        most: packs that may have come by each period, if more periods are joined in it; what the
        period itself needs comes in any case. None: no limit.
    Returns: packs to come in, one number a period.
    Raises: OutOfRange.
    Source: as wagner_whitin; minimum and limit are our own.
    Checked in: tests/forecasting/test_lot_sizing.py, against all plans there are
    """
    _check(needs, fee, holding, 0.0)
    require(minimum >= 1, "minimum", "be 1 or more", minimum)
    limits = [float("inf")] * len(needs) if most is None else most
    require(len(limits) == len(needs), "most", f"have {len(needs)} periods", len(limits))
    wanted = list(accumulate(needs))
    plans: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    for period, due in enumerate(wanted):
        longer: dict[int, tuple[float, tuple[int, ...]]] = {}
        for received, (cost, lots) in plans.items():
            for come in _levels(received, wanted[period:], minimum, limits[period]):
                lot = come - received
                spent = cost + (fee if lot else 0.0) + holding * (come - due)
                plan = (spent, (*lots, lot))
                longer[come] = min(longer.get(come, plan), plan)
        plans = longer
    return min(plans.values())[1]


def _levels(received: int, wanted: Sequence[int], minimum: int, most: float) -> Iterator[int]:
    """Packs that may have come after this period, of which wanted[0] must have."""
    if received >= wanted[0]:
        yield received
        return
    least = max(wanted[0], received + minimum)
    yield least
    yield from (come for come in sorted(set(wanted)) if least < come <= most)


def _each(value: float | Sequence[float], periods: int) -> Sequence[float]:
    return value if isinstance(value, Sequence) else [value] * periods


def _check(
    demand: Sequence[float],
    fee: float | Sequence[float],
    holding: float,
    unit_price: float | Sequence[float],
) -> None:
    rows = {"demand": demand, "fee": fee, "holding": holding, "unit_price": unit_price}
    for name, row in rows.items():
        numbers = _each(row, len(demand))
        require(len(numbers) == len(demand), name, f"have {len(demand)} periods", len(numbers))
        require(all(number >= 0 for number in numbers), name, "not be negative", row)
