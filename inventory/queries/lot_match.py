"""What must match comes from one lot: enough in total but not in one lot is short.

Pieces to cut are matched by their cutting plan; this is for what is counted, weighed or measured.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from forecasting.explosion import Need
from inventory.models import Balance, Item

NOTHING = Decimal(0)
Lots = Mapping[int, Decimal]
"""Lot id -> what of it is free, in the order in which lots are used up."""


@dataclass(frozen=True)
class Matched:
    """What to take of each lot, and what no single lot holds."""

    by_lot: dict[int, Decimal]
    missing: Decimal


def must_match(item: Item) -> bool:
    """Whether lots of an item that isn't cut from pieces may not be mixed."""
    return item.lot_match != Item.LotMatch.NONE and not item.in_pieces


def lots_of(free: Iterable[tuple[Balance, Decimal]]) -> dict[int, Decimal]:
    """Free balances gathered by lot: a lot at two places is still one."""
    lots: dict[int, Decimal] = defaultdict(Decimal)
    for balance, qty in free:
        lots[balance.lot_id] += qty
    return dict(lots)


def sets_of(item: Item, needs: Sequence[Need]) -> list[Decimal]:
    """Amounts that must each come from one lot: what one knife takes, or the whole batch."""
    whole = item.in_whole_units(sum((need.qty for need in needs), NOTHING))
    if item.lot_match == Item.LotMatch.BATCH:
        return [whole] if whole else []
    size: dict[str, Decimal] = defaultdict(Decimal)
    times: dict[str, int] = defaultdict(int)
    for need in needs:
        name = need.owner if need.per == "knife" else f"{need.owner} per {need.per}"
        size[name] += need.each
        times[name] = max(times[name], math.ceil(need.qty / need.each))
    sets = [item.in_whole_units(size[name]) for name in size for _ in range(times[name])]
    return _no_more_than(whole, sets)


def equal_sets(whole: Decimal, size: Decimal) -> list[Decimal]:
    """The whole in sets of one size, the last one smaller where it doesn't divide."""
    return _no_more_than(whole, [size] * math.ceil(whole / size))


def match_lots(lots: Lots, sets: Iterable[Decimal]) -> Matched:
    """Give each set to the first lot that holds it, the largest sets first.

    Sets of one size are placed as well as can be; of mixed sizes one may be missed that a cleverer
    choice would have placed (first fit, decreasing).
    """
    left, taken, missing = dict(lots), defaultdict(Decimal), NOTHING
    for size in sorted(sets, reverse=True):
        lot = next((lot for lot, qty in left.items() if qty >= size), None)
        if lot is None:
            missing += size
            continue
        left[lot] -= size
        taken[lot] += size
    return Matched(dict(taken), missing)


def in_whole_sets(lots: Lots, size: Decimal) -> Decimal:
    """What can be used of the lots when every set comes from one of them."""
    return sum((qty // size * size for qty in lots.values()), NOTHING)


def _no_more_than(whole: Decimal, sets: Iterable[Decimal]) -> list[Decimal]:
    kept, left = [], whole
    for size in sets:
        if left > 0:
            kept.append(min(size, left))
            left -= size
    return kept
