"""An outside service for a batch: who, how long, and what the lot costs a blade at this count."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from forecasting.explosion import Need
from inventory.models import Item, Offer
from inventory.queries.shelf import Shelf

NOTHING = Decimal(0)


@dataclass(frozen=True)
class ServiceCheck:
    """qty blades to send; cost of the whole lot, its charge and minimum included."""

    item: Item
    qty: int
    offer: Offer | None
    cost: Decimal
    minimum: Decimal

    @property
    def cost_each(self) -> Decimal:
        return self.cost / self.qty if self.qty else NOTHING

    @property
    def below_minimum(self) -> bool:
        return self.qty < self.minimum


def check_service(shelf: Shelf, item: Item, needs: Sequence[Need]) -> ServiceCheck:
    """Price the blades of a batch at the vendor's present offer; offer None: nobody does it."""
    qty = int(sum((need.qty for need in needs), NOTHING))
    offer = shelf.offers.get(item.pk)
    if offer is None:
        return ServiceCheck(item, qty, None, NOTHING, NOTHING)
    minimum = offer.pack_qty * offer.minimum_packs
    packs = max(Decimal(qty), minimum) / offer.pack_qty
    cost = offer.lot_charge + offer.price_at(packs) * packs
    return ServiceCheck(item, qty, offer, cost, minimum)
