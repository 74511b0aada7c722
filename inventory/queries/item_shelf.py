"""One item as it lies on the shelf now, read once."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, Sum

from inventory.fields import QuantityField
from inventory.models import (
    Balance,
    Item,
    ItemForecast,
    OrderLine,
    PurchaseOrder,
    Reservation,
)
from inventory.queries.availability import NOTHING, Stock, free_of, stock_of
from inventory.queries.stock import balances_of, reservations_of


@dataclass(frozen=True)
class ItemShelf:
    """What is there of an item, held for batches, and free; first expired first."""

    item: Item
    balances: list[Balance]
    held: list[Reservation]
    stock: Stock
    free: list[tuple[Balance, Decimal]]


def items_with_outlook() -> QuerySet[Item]:
    """Items with what their pages say beside the shelf itself.

    coming: what is on order. reorder_point: of the newest forecast, None without one.
    is_mixed: whether it is part of a two-part system.
    """
    lines = OrderLine.objects.filter(
        item=OuterRef("pk"), order__state=PurchaseOrder.State.SENT, closed=False
    )
    coming = (
        lines.order_by()
        .values("item")
        .annotate(left=Sum(F("qty") - F("received_qty"), output_field=QuantityField()))
    )
    newest = ItemForecast.objects.filter(item=OuterRef("pk")).order_by("-run")
    return Item.objects.select_related("place").annotate(
        coming=Subquery(coming.values("left")),
        reorder_point=Subquery(newest.values("reorder_point")[:1]),
        is_mixed=Q(mixed_with__isnull=False)
        | Exists(Item.objects.filter(mixed_with=OuterRef("pk"))),
    )


def look_at_item(item: Item, day: date) -> ItemShelf:
    """The shelf of one of items_with_outlook, in two more queries."""
    balances, held = balances_of(item), reservations_of(item)
    return ItemShelf(
        item=item,
        balances=balances,
        held=held,
        stock=stock_of(balances, held, day, item.coming or NOTHING),
        free=free_of(balances, held, day),
    )
