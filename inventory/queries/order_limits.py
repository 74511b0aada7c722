"""What sets a limit to an order: shelf life, room on the shelf, the end of an item's use."""

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal

from forecasting.order_quantity import Limit, Pack, last_packs
from inventory.days import show_day
from inventory.models import Item, ItemForecast, Offer
from inventory.queries.use_ahead import UseAhead, rounded, use_ahead

SURE = 0.8
"""Chance with which an order is to be used before it expires: common practice, no source."""


@dataclass(frozen=True)
class OrderTerms:
    """How an item is ordered now.

    last_qty: of an item that won't be bought again, what the last order should bring.
    """

    pack: Pack
    last_qty: Decimal | None
    ahead: UseAhead | None
    here_days: float

    def used_in_time(self, item: Item, position: Decimal, qty: Decimal) -> float | None:
        """Chance that all that is here, on order and ordered now is used before it expires."""
        if self.ahead is None or not item.shelf_life_days or not qty:
            return None
        return self.ahead.chance_reached(
            float(position + qty), self.here_days + item.shelf_life_days
        )


def order_terms(
    offer: Offer, forecast: ItemForecast, position: Decimal, day: date, *, price: Decimal | None
) -> OrderTerms:
    """Pack, prices and limits of one item; position: here, on order and drafted.

    price: of a pack, tried in place of the offer's own prices.
    """
    ahead = use_ahead(forecast, day)
    steps = tuple((step.from_packs, step.price) for step in offer.price_breaks.all())
    bare = Pack(
        qty=offer.pack_qty,
        minimum_packs=offer.minimum_packs,
        price_breaks=steps if price is None else ((1, price),),
        order_fee=offer.lot_charge + offer.supplier.order_fee,
    )
    last = _last_qty(bare, forecast, ahead, position, day)
    limits = _limits(forecast, ahead, position)
    if last is not None:
        limits.append(Limit(_until(forecast.item), last, "are worth having"))
    pack = Pack(bare.qty, bare.minimum_packs, bare.price_breaks, bare.order_fee, tuple(limits))
    is_last = forecast.item.status == Item.Status.LAST_BUY
    return OrderTerms(pack, last if is_last else None, ahead, forecast.lead_mean_days)


def _limits(forecast: ItemForecast, ahead: UseAhead | None, position: Decimal) -> list[Limit]:
    item, limits = forecast.item, []
    if ahead is not None and item.shelf_life_days:
        expires = forecast.lead_mean_days + item.shelf_life_days
        useful = ahead.quantile(expires, 1 - SURE) - float(position)
        limits.append(Limit("shelf life", rounded(useful, item), "can be used in time"))
    if item.most_stored is not None:
        gone = ahead.quantile(forecast.lead_mean_days, 1 - SURE) if ahead else 0.0
        left = max(float(position) - gone, 0.0)
        room = max(item.most_stored - Decimal(str(round(left, 6))), Decimal(0))
        limits.append(Limit("room", _whole(room, item), "fits on the shelf"))
    return limits


def _last_qty(
    pack: Pack, forecast: ItemForecast, ahead: UseAhead | None, position: Decimal, day: date
) -> Decimal | None:
    """What an order has to bring so that nothing follows it; None without an end in sight.

    The item's service level says how a unit missing weighs against one left over.
    """
    until = forecast.item.needed_until
    if until is None or ahead is None:
        return None
    days = float(max((until - day).days, 0))
    packs = last_packs(
        float(position),
        pack,
        lambda chance: ahead.quantile(days, chance),
        short=forecast.service_level,
        left=1 - forecast.service_level,
    )
    return packs * pack.qty


def _whole(qty: Decimal, item: Item) -> Decimal:
    return qty.to_integral_value(ROUND_FLOOR) if item.stock_unit == Item.Unit.EACH else qty


def _until(item: Item) -> str:
    return f"needed until {show_day(item.needed_until)}"
