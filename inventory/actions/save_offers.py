"""What suppliers sell: dated offers, each of which ends the one before."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory.actions.many_records import refuse_faults
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import Item, Offer, PriceBreak, Supplier, User
from inventory.models.piece import size_in_stock_unit
from inventory.queries.record_check import record_check


@dataclass(frozen=True)
class NewOffer:
    """An offer to be added; prices as (from how many packs, price of a pack)."""

    supplier: Supplier
    item: Item
    values: Mapping[str, Any]
    prices: Sequence[tuple[int, Decimal]]
    valid_from: date


@action
def save_offer(
    *,
    supplier: Supplier,
    item: Item,
    values: Mapping[str, Any],
    price_breaks: Sequence[tuple[int, Decimal]],
    valid_from: date,
    by: User | None = None,
) -> Offer:
    """Add a dated offer; the supplier's earlier one for the item ends the day before.

    For items kept in pieces the pack's quantity follows from the piece size and count.
    A preferred offer takes that mark from any other.
    """
    return _write([NewOffer(supplier, item, values, price_breaks, valid_from)])[0]


@action
def save_offers(*, offers: Sequence[NewOffer], by: User | None = None) -> int:
    """Add offers in their order, as save_offer does, and return how many; all of them or none."""
    return len(_write(offers))


def _write(wanted: Sequence[NewOffer]) -> list[Offer]:
    offers = [_offer(new) for new in wanted]
    prices = [
        price for new, offer in zip(wanted, offers, strict=True) for price in _prices(new, offer)
    ]
    touched = _InForce(offers).make_room()
    Offer.objects.bulk_update(touched, ["valid_to", "preferred"], batch_size=200)
    Offer.objects.bulk_create(offers, batch_size=500)
    PriceBreak.objects.bulk_create(prices, batch_size=500)
    return offers


class _InForce:
    """Offers that hold of the items of new ones, and the new ones among them in their turn."""

    def __init__(self, new: Sequence[Offer]) -> None:
        self.new = new
        stored = Offer.objects.filter(item__in={offer.item_id for offer in new})
        self.by_item: dict[int, list[Offer]] = defaultdict(list)
        for offer in stored.filter(valid_to__isnull=True) | stored.filter(preferred=True):
            self.by_item[offer.item_id].append(offer)

    def make_room(self) -> list[Offer]:
        """End the earlier offers and take marks away; returns the stored ones that changed."""
        touched: dict[int, Offer] = {}
        for offer in self.new:
            others = self.by_item[offer.item_id]
            for other in [*_ended_by(offer, others), *_outranked_by(offer, others)]:
                if other.pk:
                    touched[other.pk] = other
            others.append(offer)
        return list(touched.values())


def _ended_by(offer: Offer, others: Iterable[Offer]) -> Iterable[Offer]:
    for other in others:
        if other.supplier_id != offer.supplier_id or other.valid_to is not None:
            continue
        if other.valid_from >= offer.valid_from:
            raise Refused(
                f"{offer.item.code}: {offer.supplier.name} already has an offer from "
                f"{show_day(other.valid_from)}. Give the new one a later day."
            )
        other.valid_to, other.preferred = offer.valid_from - timedelta(days=1), False
        yield other


def _outranked_by(offer: Offer, others: Iterable[Offer]) -> Iterable[Offer]:
    for other in others:
        if offer.preferred and other.preferred:
            other.preferred = False
            yield other


def _offer(new: NewOffer) -> Offer:
    values, check = dict(new.values), record_check(Offer)
    if new.item.in_pieces:
        values["pack_qty"] = _pack_of_pieces(new.item, values)
    offer = Offer(supplier=new.supplier, item=new.item, valid_from=new.valid_from, **values)
    refuse_faults(offer, check, check.fields, f"{new.item.code}: Offer")
    return offer


def _prices(new: NewOffer, offer: Offer) -> list[PriceBreak]:
    counts = [count for count, _ in new.prices]
    if not counts or min(counts) > 1:
        raise Refused(f"{new.item.code}: give the price of a single pack first.")
    if len(set(counts)) < len(counts):
        raise Refused(
            f"{new.item.code}: one of its prices already exists. Keep one for each count."
        )
    check = record_check(PriceBreak)
    prices = [
        PriceBreak(offer=offer, from_packs=count, price=price)
        for count, price in sorted(new.prices)
    ]
    for price in prices:
        refuse_faults(price, check, check.fields, f"{new.item.code}: Price break")
    return prices


def _pack_of_pieces(item: Item, values: dict[str, Any]) -> Decimal:
    length, width = values.get("piece_length_um"), values.get("piece_width_um")
    count = values.setdefault("pieces_per_pack", 1)
    if not length or (item.stock_unit == Item.Unit.MM2) != bool(width):
        raise Refused(f"{item.code} is kept in pieces; give the size of one piece of the pack.")
    return size_in_stock_unit(length, width) * count
