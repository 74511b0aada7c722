"""How many packs to order: what is short, the pack, the minimum, price breaks and shelf life.

Quick on purpose (standard library only): a page asks it for every line it shows.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from forecasting.errors import require

__all__ = ["Pack", "PackChoice", "economic_order_quantity", "packs_to_order", "yearly_cost"]


@dataclass(frozen=True)
class Pack:
    """How a supplier sells an item.

    qty: stock units in one pack. minimum_packs: fewest packs per order line.
    price_breaks: ascending (from_packs, price_per_pack); the price of the band holds for all packs.
    order_fee: money each order costs whatever its size (freight, hazardous-goods fee, own work).
    max_useful_qty: stock units that can be used before they expire, None when they keep.
    """

    qty: Decimal
    minimum_packs: int = 1
    price_breaks: tuple[tuple[int, Decimal], ...] = ()
    order_fee: Decimal = Decimal(0)
    max_useful_qty: Decimal | None = None

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

    Every price band offers its start and both pack neighbours of its economic order quantity; the
    cheapest year wins, the smaller order on a tie. A saving never buys more than a year's use
    (common practice, no source) nor more than shelf life allows; the minimum order goes before both.

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


def _shelf_packs(pack: Pack) -> int | None:
    if pack.max_useful_qty is None:
        return None
    return max(0, _packs(pack.max_useful_qty, pack, ROUND_FLOOR))


def _limits(needed: int, use_per_year: float, pack: Pack) -> tuple[int, int]:
    shelf = _shelf_packs(pack)
    least = max(needed if shelf is None else min(needed, shelf), pack.fewest)
    years_use = math.ceil(use_per_year / float(pack.qty))
    most = years_use if shelf is None else min(years_use, shelf)
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
        candidates |= {start, math.floor(packs), math.ceil(packs)}
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
    shelf = _shelf_packs(pack)
    if shelf is not None and packs > shelf:
        return _beyond_shelf_life(packs, needed, pack)
    if packs < needed:
        return f"shelf life: no more than {_plain(pack.max_useful_qty)} can be used in time"
    if packs == needed:
        return "what is short, in whole packs"
    if packs == pack.fewest:
        return f"minimum order of {packs} packs" if packs > 1 else "one pack"
    if packs in [start for start, _ in pack.price_breaks[1:]]:
        return f"price break at {packs}"
    if packs == shelf:
        return "as much as shelf life allows; fewer orders"
    return "fewer orders cost less over a year"


def _beyond_shelf_life(packs: int, needed: int, pack: Pack) -> str:
    useful = _plain(pack.max_useful_qty)
    if packs == pack.fewest > 1:
        return f"minimum order of {packs} packs, though only {useful} can be used in time"
    return f"one pack, though only {useful} can be used in time"


def _plain(qty: Decimal | None) -> str:
    return f"{qty.normalize():f}" if qty is not None else ""
