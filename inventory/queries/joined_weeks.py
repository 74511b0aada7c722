"""Weeks whose need is ordered at once, where another order would cost more than keeping it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal
from itertools import accumulate

from forecasting.lot_sizing import joined_packs, plan_cost
from forecasting.netting import NettingRecord
from inventory.models import Item, Offer, Shop
from inventory.queries.order_limits import SURE
from inventory.queries.use_ahead import UseAhead

WEEKS_A_YEAR = 52
SMALLEST_COIN = 0.01


@dataclass(frozen=True)
class JoinedWeeks:
    """Packs to come in each week, and what joining spares over the weeks of the record.

    fee: money an order of the item costs, whatever its size. keeping: money for a pack that lies
    on the shelf for a week. orders: how many it takes; apart: how many if no weeks were joined.
    """

    packs: tuple[int, ...]
    fee: Decimal
    keeping: Decimal
    orders: int
    apart: int
    saves: Decimal


def joined_weeks(
    alone: NettingRecord,
    offer: Offer | None,
    *,
    safety_stock: Decimal,
    weeks: Sequence[date],
    ahead: UseAhead,
    lead_days: float,
) -> JoinedWeeks | None:
    """The cheapest orders for the need of a record; None when no weeks are worth joining.

    Nothing is joined without an offer, a fee, a price or a cost of keeping. Joined is only what
    can be used before it expires, fits on the shelf, and is needed before the item's use ends.

    Args: alone: the record with each week ordered apart. weeks: their Mondays; ahead: use told
        for the same weeks. lead_days: from an order to its delivery.
    """
    if offer is None:
        return None
    fee = offer.lot_charge + offer.supplier.order_fee
    rate = Shop.objects.get().holding_rate
    keeping = rate * offer.price_at(offer.minimum_packs) / WEEKS_A_YEAR
    if fee <= 0 or keeping <= 0:
        return None
    wanted = _packs_wanted(alone, safety_stock, offer.pack_qty)
    needs = [now - before for before, now in zip([0, *wanted], wanted, strict=False)]
    terms = {"fee": float(fee), "holding": float(keeping)}
    packs = joined_packs(
        needs,
        minimum=offer.minimum_packs,
        most=_most(alone, offer, wanted, weeks, ahead, lead_days),
        **terms,
    )
    apart = [int(receipt / offer.pack_qty) for receipt in alone.receipts]
    saves = plan_cost(apart, needs, **terms) - plan_cost(packs, needs, **terms)
    if saves < SMALLEST_COIN:
        return None
    return JoinedWeeks(
        packs,
        fee,
        keeping,
        orders=sum(map(bool, packs)),
        apart=sum(map(bool, apart)),
        saves=Decimal(str(round(saves, 2))),
    )


def _packs_wanted(alone: NettingRecord, safety_stock: Decimal, pack: Decimal) -> list[int]:
    """Packs that must have come by each week for the stock to stay at the safety stock."""
    short = (max(safety_stock - stock, Decimal(0)) / pack for stock in alone.balance)
    whole = (int(packs.to_integral_value(ROUND_CEILING)) for packs in short)
    return list(accumulate(whole, max))


def _most(
    alone: NettingRecord,
    offer: Offer,
    wanted: Sequence[int],
    weeks: Sequence[date],
    ahead: UseAhead,
    lead_days: float,
) -> list[float]:
    """Packs that may have come by each week at most; no limit is infinite."""
    item, last = offer.item, _last_needed(offer.item, wanted, weeks)
    starts = [0.0, *ahead.days]
    used, most = Decimal(0), []
    for start, need, stock in zip(starts, alone.gross, alone.balance, strict=False):
        used += need
        here_and_due = float(stock + used)
        limit = min(_used_in_time(item, ahead, start), _room(item, ahead, start, lead_days))
        most.append(min(last, (limit - here_and_due) / float(offer.pack_qty)))
    return most


def _used_in_time(item: Item, ahead: UseAhead, start: float) -> float:
    """Used before what comes at the start of a week expires, from today on.

    Until that week as expected; from then on as surely as from today on.
    """
    life = item.shelf_life_days
    if not life:
        return math.inf
    expected = ahead.mean(start + life) - ahead.mean(start)
    from_today = ahead.mean(life)
    sure = ahead.quantile(life, 1 - SURE) / from_today if from_today else 0.0
    return ahead.mean(start) + expected * sure


def _room(item: Item, ahead: UseAhead, start: float, lead_days: float) -> float:
    """What fits on the shelf, and what is used before the week starts.

    As expected, but little while an order is under way: it can't be put off any more then.
    """
    if item.most_stored is None:
        return math.inf
    stays = ahead.mean(lead_days) - ahead.quantile(lead_days, 1 - SURE)
    return float(item.most_stored) + ahead.mean(start) - max(stays, 0.0)


def _last_needed(item: Item, wanted: Sequence[int], weeks: Sequence[date]) -> float:
    """Packs wanted until the item's use ends."""
    if item.needed_until is None:
        return math.inf
    pairs = zip(weeks, wanted, strict=True)
    return max((packs for monday, packs in pairs if monday <= item.needed_until), default=0)
