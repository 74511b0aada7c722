"""Everything a batch check looks at, read once: items, stock, offers, arrivals, made parts."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

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
    day: date, batch: Batch | None = None, only: Collection[int] | None = None
) -> Shelf:
    """Read the shop for a check; a fixed number of queries, however large the batch.

    only: ids of the items that matter, when they are known; parts made in house always do.
    """
    bills = made_bills()
    items = Item.objects.select_related("place")
    if only is not None:
        items = items.filter(Q(pk__in=only) | Q(code__in=bills))
    by_code = {item.code: item for item in items}
    ids = None if only is None else [item.pk for item in by_code.values()]
    return Shelf(
        day=day,
        batch=batch,
        items=by_code,
        stock=stock_by_item(day, ids, own_batch=batch),
        free=free_by_item(day, ids, batch=batch),
        offers=current_offers(day, ids),
        arrivals=arrivals_by_item(day, ids),
        bills=bills,
    )


def rack_of(free: Iterable[tuple[Balance, Decimal]]) -> list[Piece]:
    """Pieces behind free balances, those at vendors left out."""
    pieces = []
    for balance, _ in free:
        if balance.piece is not None and not balance.place.supplier_id:
            balance.piece.lot = balance.lot
            pieces.append(balance.piece)
    return pieces
