"""Everything a batch check looks at, read once: items, stock, offers, arrivals, made parts."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from forecasting.explosion import Bill, Build, Explosion, explode
from inventory.models import Balance, Batch, Item, Offer, Piece
from inventory.queries.arrivals import Arrival, arrivals_by_item, current_offers
from inventory.queries.availability import Stock, free_by_item, stock_by_item
from inventory.queries.bills import made_bills


@dataclass(frozen=True)
class Shelf:
    """The shop on one day, as one batch sees it: what is held for it counts as free."""

    day: date
    batch: Batch | None
    items: dict[str, Item]
    stock: dict[int, Stock]
    free: dict[int, list[tuple[Balance, Decimal]]]
    offers: dict[int, Offer]
    arrivals: dict[int, list[Arrival]]
    bills: dict[str, Bill]

    def stock_of(self, item: Item) -> Stock:
        return self.stock.get(item.pk) or Stock()

    def explode(self, builds: Iterable[Build]) -> Explosion:
        """Explode builds, parts made in house netted against what is available of them."""
        made = {code: self.stock_of(self.items[code]).available for code in self.bills}
        return explode(builds, self.bills, made)

    def rack(self, item: Item) -> list[Piece]:
        """Pieces of an item that may be cut: free, usable, in the shop."""
        return rack_of(self.free.get(item.pk, []))


def look_at_shelf(
    day: date, batch: Batch | None = None, bills: dict[str, Bill] | None = None
) -> Shelf:
    """Read the shop for a check; a fixed number of queries, however large the batch.

    bills: of the parts made in house, when they were read before.
    """
    return Shelf(
        day=day,
        batch=batch,
        items={item.code: item for item in Item.objects.select_related("place")},
        stock=stock_by_item(day, own_batch=batch),
        free=free_by_item(day, batch=batch),
        offers=current_offers(day),
        arrivals=arrivals_by_item(day),
        bills=made_bills() if bills is None else bills,
    )


def rack_of(free: Iterable[tuple[Balance, Decimal]]) -> list[Piece]:
    """Pieces behind free balances, those at vendors left out."""
    pieces = []
    for balance, _ in free:
        if balance.piece is not None and not balance.place.supplier_id:
            balance.piece.lot = balance.lot
            pieces.append(balance.piece)
    return pieces
