"""How many packs to order: what is short, the pack, the minimum, price breaks, what sets a limit.

Quick on purpose (standard library only): a page asks it for every line it shows.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from forecasting.errors import require

__all__ = [
    "Limit",
    "Pack",
    "PackChoice",
    "economic_order_quantity",
    "last_packs",
    "newsvendor_cost",
    "newsvendor_quantity",
    "packs_to_order",
    "yearly_cost",
]


@dataclass(frozen=True)
class Limit:
    """More stock units than qty are of no use. Says: {why}: no more than {qty} {words}."""

    why: str
    qty: Decimal
    words: str


@dataclass(frozen=True)
class Pack:
    """How a supplier sells an item.

    qty: stock units in one pack. minimum_packs: fewest packs per order line.
    price_breaks: ascending (from_packs, price_per_pack); the price of the band holds for all packs.
    order_fee: money each order costs whatever its size (freight, hazardous-goods fee, own work).
    limits: what sets a limit to one order: shelf life, room, an end of use; the least of them binds.
    """

    qty: Decimal
    minimum_packs: int = 1
    price_breaks: tuple[tuple[int, Decimal], ...] = ()
    order_fee: Decimal = Decimal(0)
    limits: tuple[Limit, ...] = ()

    def __post_init__(self) -> None:
        require(self.qty > 0, "pack qty", "be above 0", self.qty)
        require(self.order_fee >= 0, "order_fee", "not be negative", self.order_fee)
        starts = [start for start, _ in self.price_breaks]
        ascending = all(low < high for low, high in zip(starts, starts[1:], strict=False))
        require(ascending, "price_breaks", "ascend by number of packs", starts)
        prices = [price for _, price in self.price_breaks]
        require(
            all(price >= 0 for price in prices), "price_breaks", "hold no negative price", prices
        )

    @property
    def fewest(self) -> int:
        """Fewest packs that can be ordered at all."""
        first_band = self.price_breaks[0][0] if self.price_breaks else 1
        return max(1, self.minimum_packs, first_band)

    @property
    def limit(self) -> Limit | None:
        """The limit that binds."""
        return min(self.limits, key=lambda limit: limit.qty, default=None)

    @property
    def most(self) -> int | None:
        """Whole packs within the limit; None without one."""
        return max(0, _packs(self.limit.qty, self, ROUND_FLOOR)) if self.limit else None

    def price(self, packs: int) -> Decimal:
        """Price of one pack when that many are ordered; 0 when no price is known."""
        bands = [price for start, price in self.price_breaks if start <= packs]
        return bands[-1] if bands else Decimal(0)

    def cost(self, packs: int) -> Decimal:
        """Money for the packs, without the order fee."""
        return packs * self.price(packs)


@dataclass(frozen=True)
class PackChoice:
    """What to order. cost: money for the packs without the order fee; reason: words for the maker."""

    packs: int
    qty: Decimal
    cost: Decimal
    reason: str


NOTHING = PackChoice(0, Decimal(0), Decimal(0), "nothing short")


def economic_order_quantity(
    use_per_year: float, order_fee: float, holding_per_unit_year: float
) -> float:
    """Order size at which a year of order fees costs as much as a year of keeping stock.

    Returns: units; infinite when keeping stock costs nothing.
    Source: Harris (1913); Snyder & Shen (2019), Fundamentals of Supply Chain Theory, section 3.2.
    Checked in: tests/published/test_order_quantity.py
    """
    if holding_per_unit_year <= 0:
        return math.inf
    return math.sqrt(2 * order_fee * use_per_year / holding_per_unit_year)


def yearly_cost(
    qty: float,
    *,
    use_per_year: float,
    order_fee: float,
    holding_per_unit_year: float,
    unit_price: float = 0.0,
) -> float:
    """Goods, order fees and keeping stock for one year when qty is ordered each time."""
    orders_per_year = use_per_year / qty
    return unit_price * use_per_year + order_fee * orders_per_year + holding_per_unit_year * qty / 2


def packs_to_order(
    shortfall: Decimal, use_per_year: float, pack: Pack, *, holding_rate: float
) -> PackChoice:
    """Packs that cover the shortfall at the least yearly cost.

    Every price band offers its first and last number of packs and both pack neighbours of its
    economic order quantity; the cheapest year wins, the smaller order on a tie. A saving never buys
    more than a year's use (common practice, no source) nor more than the limits of the pack; the
    minimum order goes before both.

    Args:
        shortfall: stock units missing; 0 or less orders nothing.
        use_per_year: expected use in stock units a year.
        holding_rate: yearly cost of keeping stock as a share of its value, for example 0.2.
    Raises: OutOfRange if use_per_year or holding_rate is negative.
    Source: all-units discount: Snyder & Shen (2019), Fundamentals of Supply Chain Theory,
        section 3.4; comparing both pack neighbours: derived, no published example found.
    Checked in: tests/published/test_order_quantity.py
    """
    require(use_per_year >= 0, "use_per_year", "not be negative", use_per_year)
    require(holding_rate >= 0, "holding_rate", "not be negative", holding_rate)
    if shortfall <= 0:
        return NOTHING
    needed = _packs(shortfall, pack, ROUND_CEILING)
    least, most = _limits(needed, use_per_year, pack)
    packs = min(
        _candidates(least, most, use_per_year, pack, holding_rate),
        key=lambda packs: (_cost_of_a_year(packs, use_per_year, pack, holding_rate), packs),
    )
    return PackChoice(packs, packs * pack.qty, pack.cost(packs), _reason(packs, needed, pack))


def _packs(qty: Decimal, pack: Pack, rounding: str) -> int:
    return int((qty / pack.qty).to_integral_value(rounding))


def _limits(needed: int, use_per_year: float, pack: Pack) -> tuple[int, int]:
    limit = pack.most
    least = max(needed if limit is None else min(needed, limit), pack.fewest)
    years_use = math.floor(use_per_year / float(pack.qty))
    most = years_use if limit is None else min(years_use, limit)
    return least, max(least, most)


def _candidates(
    least: int, most: int, use_per_year: float, pack: Pack, holding_rate: float
) -> set[int]:
    candidates = {least}
    known_prices = [(start, price) for start, price in pack.price_breaks if price > 0]
    for start, price in known_prices:
        holding = holding_rate * float(price) / float(pack.qty)
        best = economic_order_quantity(use_per_year, float(pack.order_fee), holding)
        packs = min(best / float(pack.qty), most)
        candidates |= {start - 1, start, math.floor(packs), math.ceil(packs)}
    return {min(max(packs, least), most) for packs in candidates}


def _cost_of_a_year(packs: int, use_per_year: float, pack: Pack, holding_rate: float) -> float:
    unit_price = float(pack.price(packs) / pack.qty)
    return yearly_cost(
        packs * float(pack.qty),
        use_per_year=use_per_year,
        order_fee=float(pack.order_fee),
        holding_per_unit_year=holding_rate * unit_price,
        unit_price=unit_price,
    )


def _reason(packs: int, needed: int, pack: Pack) -> str:
    limit, most = pack.limit, pack.most
    if limit is not None and packs > most:
        return _beyond(limit, packs, pack)
    if packs < needed:
        return f"{limit.why}: no more than {_plain(limit.qty)} {limit.words}"
    if packs == needed:
        return "what is short, in whole packs"
    if packs == pack.fewest:
        return f"minimum order of {packs} packs" if packs > 1 else "one pack"
    if packs in [start for start, _ in pack.price_breaks[1:]]:
        return f"price break at {packs}"
    if packs == most:
        return f"as much as {limit.why} allows; fewer orders"
    return "fewer orders cost less over a year"


def _beyond(limit: Limit, packs: int, pack: Pack) -> str:
    least = f"minimum order of {packs} packs" if packs == pack.fewest > 1 else "one pack"
    told = f"only {_plain(limit.qty)}" if limit.qty > 0 else "none of it"
    return f"{least}, though {told} {limit.words}"


def _plain(qty: Decimal) -> str:
    return f"{qty.normalize():f}"


QUANTILES = 200
"""Evenly spaced chances over which the expected cost of a last order is taken."""


def newsvendor_quantity(quantile: Callable[[float], float], *, short: float, left: float) -> float:
    """Quantity to have when there is one order only: the next unit would as likely cost as save.

    Args: quantile: use that isn't exceeded with a chance; short: money lost by a unit missing;
        left: by a unit left over.
    Raises: OutOfRange unless both are above 0.
    Source: Snyder & Shen (2019), Fundamentals of Supply Chain Theory, section 4.3: the quantile at
        short / (short + left).
    Checked in: tests/published/test_newsvendor.py
    """
    require(short > 0, "short", "be above 0", short)
    require(left > 0, "left", "be above 0", left)
    return quantile(short / (short + left))


def newsvendor_cost(
    quantity: float, quantile: Callable[[float], float], *, short: float, left: float
) -> float:
    """Expected money lost by what is missing or left over; source as newsvendor_quantity."""
    uses = [quantile((number + 0.5) / QUANTILES) for number in range(QUANTILES)]
    lost = (short * (use - quantity) if use > quantity else left * (quantity - use) for use in uses)
    return sum(lost) / QUANTILES


def last_packs(
    here: float, pack: Pack, quantile: Callable[[float], float], *, short: float, left: float
) -> int:
    """Packs of a last order: both neighbours of what is missing, compared by what they cost.

    Args: here: stock units here and on order; the others as newsvendor_quantity.
    Raises: OutOfRange.
    """
    missing = newsvendor_quantity(quantile, short=short, left=left) - here
    if missing <= 0:
        return 0
    size = float(pack.qty)
    fewer = math.floor(missing / size)
    return min(
        (fewer, math.ceil(missing / size)),
        key=lambda packs: newsvendor_cost(here + packs * size, quantile, short=short, left=left),
    )
