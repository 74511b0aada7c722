"""What an item cost over time: as it was offered, and as it was paid."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.models import Item, Lot, Offer

NEWEST = 20


@dataclass(frozen=True)
class OfferedPrice:
    """Price of one stock unit at the smallest amount the offer sells, from `since` to `until`."""

    offer: Offer
    since: date
    until: date | None
    price: Decimal


@dataclass(frozen=True)
class PaidPrice:
    """Cost of one stock unit of a lot as it was received."""

    lot: Lot
    day: date
    price: Decimal


def offers_ever(item: Item) -> list[Offer]:
    """Every offer of an item, those that ended too, the newest first."""
    offers = item.offers.select_related("supplier").prefetch_related("price_breaks")
    return list(offers.order_by("-valid_from", "-pk"))


def holding_on(offers: Iterable[Offer], day: date) -> list[Offer]:
    """Those that hold on that day, the preferred one first."""
    holding = [
        offer
        for offer in offers
        if offer.valid_from <= day and (offer.valid_to is None or offer.valid_to >= day)
    ]
    return sorted(holding, key=lambda offer: (not offer.preferred, offer.supplier.name))


def offered_prices(offers: Iterable[Offer]) -> list[OfferedPrice]:
    """Prices of a stock unit at the least amount each offer sells; in the order given."""
    return [
        OfferedPrice(
            offer,
            offer.valid_from,
            offer.valid_to,
            offer.price_at(offer.minimum_packs) / offer.pack_qty,
        )
        for offer in offers
    ]


def paid_prices(item: Item) -> list[PaidPrice]:
    """What the newest bought lots cost, the newest first; lots without a stated cost left out."""
    lots = item.lots.filter(unit_cost__gt=0, supplier__isnull=False).select_related("supplier")
    return [
        PaidPrice(lot, lot.received_on, lot.unit_cost)
        for lot in lots.order_by("-received_on", "-pk")[:NEWEST]
    ]
