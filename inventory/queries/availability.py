"""What is on hand, held, usable and free: of one item, or of all of them at once."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import F, QuerySet, Sum

from inventory.fields import QuantityField
from inventory.models import Balance, Batch, Item, OrderLine, PurchaseOrder, Reservation

NOTHING = Decimal(0)


@dataclass
class Stock:
    """Stock of one item, in its stock unit.

    on_hand: everything there. unusable: why -> how much of it doesn't count. held: for batches, of usable lots.
    away: at vendors, part of on_hand. on_order: still to come of sent orders.
    """

    on_hand: Decimal = NOTHING
    held: Decimal = NOTHING
    away: Decimal = NOTHING
    on_order: Decimal = NOTHING
    unusable: dict[str, Decimal] = field(default_factory=dict)

    @property
    def usable(self) -> Decimal:
        return self.on_hand - sum(self.unusable.values(), NOTHING)

    @property
    def available(self) -> Decimal:
        """On hand less held, expired and quarantined."""
        return max(self.usable - self.held, NOTHING)


def stock_by_item(
    day: date, items: Iterable[int] | None = None, *, own_batch: Batch | None = None
) -> dict[int, Stock]:
    """Stock of every item (or of those ids) in three queries; items without stock get zeros.

    own_batch: its reservations count as free, because it is the one that asks.
    """
    ids = None if items is None else list(items)
    stock: dict[int, Stock] = defaultdict(Stock)
    for balance in _balances(ids):
        _add_balance(stock[balance.item_id], balance, day)
    for reservation in _held(ids, own_batch):
        if not reservation.lot.why_unusable(day):
            stock[reservation.item_id].held += reservation.qty
    for item_id, ordered in _on_order(ids):
        stock[item_id].on_order = ordered
    return stock


def free_balances(
    item: Item, day: date, *, batch: Batch | None = None
) -> list[tuple[Balance, Decimal]]:
    """Usable balances of an item with what is free of each, first expired first.

    Lots without expiry come last, the oldest receipt first. Stock held for another batch isn't
    free; stock held for `batch` is.
    """
    return free_by_item(day, [item.pk], batch=batch)[item.pk]


def free_by_item(
    day: date, items: Iterable[int] | None = None, *, batch: Batch | None = None
) -> dict[int, list[tuple[Balance, Decimal]]]:
    """The same for every item (or those ids) in two queries."""
    ids = None if items is None else list(items)
    held: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    for reservation in _held(ids, batch):
        held[reservation.lot_id, reservation.piece_id] += reservation.qty
    free: dict[int, list[tuple[Balance, Decimal]]] = defaultdict(list)
    rows = _balances(ids).select_related("lot__item", "piece", "place")
    first_expired = F("lot__expires_on").asc(nulls_last=True)
    for balance in rows.order_by(first_expired, "lot__received_on", "lot_id", "pk"):
        if balance.lot.why_unusable(day):
            continue
        taken = min(held[balance.lot_id, balance.piece_id], balance.qty)
        held[balance.lot_id, balance.piece_id] -= taken
        if balance.qty > taken:
            free[balance.item_id].append((balance, balance.qty - taken))
    return free


def _balances(ids: list[int] | None) -> QuerySet[Balance]:
    rows = Balance.objects.select_related("lot", "place")
    return rows if ids is None else rows.filter(item__in=ids)


def _add_balance(stock: Stock, balance: Balance, day: date) -> None:
    stock.on_hand += balance.qty
    if balance.place.supplier_id:
        stock.away += balance.qty
    if why := balance.lot.why_unusable(day):
        stock.unusable[why] = stock.unusable.get(why, NOTHING) + balance.qty


def _held(ids: list[int] | None, own_batch: Batch | None) -> Iterable[Reservation]:
    rows = Reservation.objects.filter(is_open=True).select_related("lot")
    if ids is not None:
        rows = rows.filter(item__in=ids)
    return rows if own_batch is None else rows.exclude(batch=own_batch)


def _on_order(ids: list[int] | None) -> Iterable[tuple[int, Decimal]]:
    rows = OrderLine.objects.filter(order__state=PurchaseOrder.State.SENT, closed=False)
    if ids is not None:
        rows = rows.filter(item__in=ids)
    coming = Sum(F("qty") - F("received_qty"), output_field=QuantityField())
    return rows.order_by().values_list("item").annotate(coming=coming)
