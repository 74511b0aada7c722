"""What is in stock: the list of items, and one item, lot or piece seen from all sides."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import F, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from inventory.fields import QuantityField
from inventory.models import (
    Balance,
    BomLine,
    Item,
    Lot,
    Operation,
    OrderLine,
    Piece,
    Place,
    Product,
    PurchaseOrder,
    Reservation,
    WearLine,
)


def items_with_on_hand() -> QuerySet[Item]:
    """Every item with `on_hand`, in its stock unit, ready to be filtered and sorted."""
    there = Balance.objects.filter(item=OuterRef("pk")).order_by().values("item")
    total = Subquery(there.annotate(total=Sum("qty")).values("total"))
    return Item.objects.select_related("place").annotate(
        on_hand=Coalesce(total, Value(Decimal(0), output_field=QuantityField()))
    )


def with_unusable_stock(items: QuerySet[Item], day: date) -> QuerySet[Item]:
    """Items of which something lies there that may not be used on that day."""
    return items.filter(pk__in=Balance.objects.filter(unusable_on(day)).values("item"))


def on_order_now(items: QuerySet[Item]) -> QuerySet[Item]:
    """Items of which something is still to come."""
    lines = OrderLine.objects.filter(order__state=PurchaseOrder.State.SENT, closed=False)
    return items.filter(pk__in=lines.values("item"))


def unusable_on(day: date) -> Q:
    """Balances of lots that Lot.why_unusable has a reason for."""
    return (
        ~Q(lot__status=Lot.Status.RELEASED)
        | Q(lot__expires_on__lt=day)
        | Q(lot__usable_from__gt=day)
    )


def balances_of(item: Item) -> list[Balance]:
    """What of an item lies where, first expired first; pieces by size within their lot."""
    return list(_balances().filter(item=item))


def balances_of_lot(lot: Lot) -> list[Balance]:
    """What of a lot lies where, the largest pieces first."""
    return list(_balances().filter(lot=lot))


def balances_at(place: Place) -> list[Balance]:
    """What lies at a place, by item; within an item first expired first."""
    here = _balances().filter(place=place)
    return list(here.order_by("item__code", *here.query.order_by))


def _balances() -> QuerySet[Balance]:
    return Balance.objects.select_related(
        "item", "lot", "lot__supplier", "piece", "place"
    ).order_by(
        F("lot__expires_on").asc(nulls_last=True),
        "lot__received_on",
        "lot_id",
        F("piece__length_um").desc(nulls_last=True),
        "pk",
    )


def reservations_of(item: Item) -> list[Reservation]:
    """What is held of an item, and for which batch."""
    return list(
        Reservation.objects.filter(item=item, is_open=True)
        .select_related("batch", "lot", "piece")
        .order_by("batch__start_on", "pk")
    )


def open_orders_of(item: Item) -> list[OrderLine]:
    """Order lines of which something is still to come."""
    return list(
        item.order_lines.filter(order__state=PurchaseOrder.State.SENT, closed=False)
        .select_related("order__supplier", "offer")
        .order_by("expected_on")
    )


@dataclass(frozen=True)
class Use:
    """One line of an active bill that asks for the item, or wears it."""

    line: BomLine | WearLine
    owner: Product | Item
    operation: Operation

    @property
    def wears(self) -> bool:
        return isinstance(self.line, WearLine)


def uses_of(item: Item) -> list[Use]:
    """Where an item is used or worn: active bills of products and of parts made in house."""
    bills = {"operation__bill__status": "active"}
    related = ("operation__bill__product", "operation__bill__made_item")
    lines = [*item.bom_lines.filter(**bills).select_related(*related, "option")]
    if item.wears:
        lines += item.wear_lines.filter(**bills).select_related(*related)
    return [
        Use(line, line.operation.bill.product or line.operation.bill.made_item, line.operation)
        for line in lines
    ]


def line_of(piece: Piece) -> list[Piece]:
    """The pieces it was cut from, the oldest first; itself last."""
    line = [piece]
    while line[0].parent_id:
        line.insert(0, Piece.objects.select_related("parent").get(pk=line[0].parent_id))
    return line


def lots_here(item: Item) -> QuerySet[Lot]:
    """Lots of an item of which something is left, first expired first."""
    there = Balance.objects.filter(item=item).values("lot")
    return Lot.objects.filter(pk__in=there).order_by(
        F("expires_on").asc(nulls_last=True), "received_on", "pk"
    )
