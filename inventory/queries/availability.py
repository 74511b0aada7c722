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
    stock = _stock(_balances(ids), _held(ids, own_batch), day)
    for item_id, ordered in _on_order(ids):
        stock[item_id].on_order = ordered
    return stock


def stock_of(
    balances: Iterable[Balance],
    held: Iterable[Reservation],
    day: date,
    on_order: Decimal = NOTHING,
) -> Stock:
    """Stock of one item out of records that were read before."""
    stock = next(iter(_stock(balances, held, day).values()), Stock())
    stock.on_order = on_order
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
    rows = _balances(ids).select_related("lot__item", "piece", "place")
    first_expired = F("lot__expires_on").asc(nulls_last=True)
    rows = rows.order_by(first_expired, "lot__received_on", "lot_id", "pk")
    free: dict[int, list[tuple[Balance, Decimal]]] = defaultdict(list)
    for balance, left in free_of(rows, _held(ids, batch), day):
        free[balance.item_id].append((balance, left))
    return free


def free_of(
    balances: Iterable[Balance], held: Iterable[Reservation], day: date
) -> list[tuple[Balance, Decimal]]:
    """The usable ones of these balances, in their order, with what is free of each."""
    taken: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    for reservation in held:
        taken[reservation.lot_id, reservation.piece_id] += reservation.qty
    free = []
    for balance in balances:
        if balance.lot.why_unusable(day):
            continue
        gone = min(taken[balance.lot_id, balance.piece_id], balance.qty)
        taken[balance.lot_id, balance.piece_id] -= gone
        if balance.qty > gone:
            free.append((balance, balance.qty - gone))
    return free


def _balances(ids: list[int] | None) -> QuerySet[Balance]:
    rows = Balance.objects.select_related("lot", "place")
    return rows if ids is None else rows.filter(item__in=ids)


def _stock(balances: Iterable[Balance], held: Iterable[Reservation], day: date) -> dict[int, Stock]:
    stock: dict[int, Stock] = defaultdict(Stock)
    for balance in balances:
        _add_balance(stock[balance.item_id], balance, day)
    for reservation in held:
        if not reservation.lot.why_unusable(day):
            stock[reservation.item_id].held += reservation.qty
    return stock


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
