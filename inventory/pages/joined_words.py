"""Words for orders that are joined: what rides along and why, and how often to order together."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Shop, Supplier
from inventory.pages import display
from inventory.queries.join_orders import Joined, SupplierRhythm, supplier_rhythms, worth_joining
from inventory.queries.reorder_list import ReorderLine, ReorderList
from inventory.templatetags.shop import percent


@dataclass(frozen=True)
class Ride:
    """Lines worth adding to their supplier's order, and why."""

    lines: tuple[ReorderLine, ...]
    words: str


@dataclass(frozen=True)
class OrderedTogether:
    """What belongs to a supplier's order beside its lines; rhythm: words, or empty."""

    rides: list[Ride]
    rhythm: str

    @property
    def lines(self) -> list[ReorderLine]:
        return [line for ride in self.rides for line in ride.lines]


def ordered_together(listed: ReorderList, shop: Shop | None) -> dict[int, OrderedTogether]:
    """By supplier id, of every supplier on the list that takes a fee for an order."""
    if shop is None:
        return {}
    rate = float(shop.holding_rate)
    rides, rhythms = worth_joining(listed, rate), supplier_rhythms(listed, rate)
    return {
        group.supplier.pk: OrderedTogether(
            [
                Ride(joined.lines, _ride_words(joined, group.supplier, shop.currency))
                for joined in rides.get(group.supplier.pk, [])
            ],
            _rhythm_words(rhythms.get(group.supplier.pk)),
        )
        for group in listed.groups
        if group.supplier and group.fee
    }


def _ride_words(joined: Joined, supplier: Supplier, currency: str) -> str:
    saves = display.money(Decimal(str(round(joined.saves, 2))), currency)
    fee = display.money(supplier.order_fee, currency)
    several = len(joined.lines) > 1
    they, come = ("they", "come") if several else ("it", "comes")
    return (
        f"Saves about {saves}{' together' if several else ''}: otherwise {they} would cost another "
        f"{fee} of freight and fees before the next order here, {percent(round(joined.alone, 2))} "
        f"likely. Keeping {'them' if several else 'it'} longer is counted in; {they} {come} about "
        f"{_weeks(joined.weeks_early)} earlier."
    )


def _rhythm_words(rhythm: SupplierRhythm | None) -> str:
    if rhythm is None:
        return ""
    less = _listed(
        f"{line.item.code} every {times} times"
        if times > 2
        else f"{line.item.code} every other time"
        for line, times in rhythm.less_often
    )
    return (
        f"Ordering all of it together about every {_weeks(rhythm.weeks)} costs least over a year"
        f"{f', {less}' if less else ''}."
    )


def _weeks(weeks: float) -> str:
    whole = max(1, round(weeks))
    return f"{whole} week{'s' if whole > 1 else ''}"


def _listed(words: Iterable[str]) -> str:
    *before, last = list(words) or [""]
    return f"{', '.join(before)} and {last}" if before else last
