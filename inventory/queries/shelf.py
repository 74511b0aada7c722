"""Everything a batch check looks at, read once: items, stock, offers, arrivals, made parts."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

from forecasting.explosion import Bill, Build, Explosion, Made, explode
from inventory.models import Balance, Batch, Item, Offer, Piece
from inventory.queries.arrivals import Arrival, arrivals_by_item, current_offers
from inventory.queries.availability import Stock, free_by_item, stock_by_item
from inventory.queries.bills import made_bills
from inventory.queries.lot_match import (
    Matched,
    equal_sets,
    in_whole_sets,
    lots_of,
    match_lots,
    must_match,
)


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
        """Explode builds, parts made in house netted against what is available of them.

        Parts that may not be mixed within a batch come from one lot in stock, or all are made.
        """
        builds = list(builds)
        made = {code: self._usable_of_made(self.items[code], builds) for code in self.bills}
        exploded = explode(builds, self.bills, made)
        mixed = [part.item for part in exploded.made if self._would_mix(part)]
        if not mixed:
            return exploded
        return explode(builds, self.bills, made | dict.fromkeys(mixed, Decimal(0)))

    def matched_made(self, item: Item, qty: Decimal, builds: Iterable[Build]) -> Matched | None:
        """Lots from which to take a part made in house; None where any lots will do."""
        if not must_match(item):
            return None
        size = qty if item.lot_match == Item.LotMatch.BATCH else self._taken_a_knife(item, builds)
        return match_lots(lots_of(self.free[item.pk]), equal_sets(qty, size))

    def mixed_with(self, item: Item) -> list[tuple[Item, Decimal]]:
        """Other parts it is mixed with, and how much of each goes with one of it."""
        tied = [
            (other, 1 / other.mix_share)
            for other in self.items.values()
            if other.mixed_with_id == item.pk
        ]
        own = next((one for one in self.items.values() if one.pk == item.mixed_with_id), None)
        return [(own, item.mix_share), *tied] if own else tied

    def _usable_of_made(self, item: Item, builds: Iterable[Build]) -> Decimal:
        if not must_match(item):
            return self.stock_of(item).available
        lots = lots_of(self.free.get(item.pk, []))
        if item.lot_match == Item.LotMatch.BATCH:
            return max(lots.values(), default=Decimal(0))
        return in_whole_sets(lots, self._taken_a_knife(item, builds))

    def _taken_a_knife(self, item: Item, builds: Iterable[Build]) -> Decimal:
        """The most of a part that one knife, or one part it goes into, takes."""
        bills = [*(build.bill for build in builds), *self.bills.values()]
        lines = [line for bill in bills for step in bill.steps for line in step.lines]
        return max((line.qty for line in lines if line.item == item.code), default=Decimal(1))

    def _would_mix(self, part: Made) -> bool:
        of_one_lot = self.items[part.item].lot_match == Item.LotMatch.BATCH
        return of_one_lot and bool(part.from_stock and part.to_make)

    def rack(self, item: Item) -> list[Piece]:
        """Pieces of an item that may be cut: free, usable, in the shop."""
        return rack_of(self.free.get(item.pk, []))


def look_at_shelf(
    day: date, batch: Batch | None = None, only: Collection[int] | None = None
) -> Shelf:
    """Read the shop for a check; a fixed number of queries, however large the batch.

    only: ids of the items that matter, when they are known; parts made in house always do, and
    what the items are mixed with.
    """
    bills = made_bills()
    items = Item.objects.select_related("place")
    if only is not None:
        others = Item.objects.filter(pk__in=only, mixed_with__isnull=False).values("mixed_with")
        mixed = Q(mixed_with__in=only) | Q(pk__in=others)
        items = items.filter(Q(pk__in=only) | Q(code__in=bills) | mixed)
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
