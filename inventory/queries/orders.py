"""Purchase orders: the list with totals, one order with what came of it, what is late."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import (
    Count,
    ExpressionWrapper,
    F,
    Max,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
)

from inventory.fields import MoneyField
from inventory.models import Movement, Offer, OrderLine, OrderReceipt, PurchaseOrder
from inventory.queries.arrivals import Arrival, arrivals_by_item, valid_offers

STATE = PurchaseOrder.State
NOTHING = Decimal(0)


@dataclass(frozen=True)
class Receipt:
    """One delivery of a line, with the lot it became."""

    receipt: OrderReceipt
    lot: object


@dataclass(frozen=True)
class OrderedLine:
    """One line of an order with what came of it and when the rest may come."""

    line: OrderLine
    arrival: Arrival | None
    receipts: list[Receipt]

    @property
    def cost(self) -> Decimal:
        return self.line.packs * self.line.pack_price + self.line.offer.lot_charge


def orders() -> QuerySet[PurchaseOrder]:
    """Orders with `line_count`, `goods`, and `due`: first day on which an open line is expected."""
    goods = ExpressionWrapper(F("packs") * F("pack_price"), output_field=MoneyField())
    lines = OrderLine.objects.filter(order=OuterRef("pk")).order_by().values("order")
    return (
        PurchaseOrder.objects.select_related("supplier")
        .annotate(
            line_count=Count("lines"),
            goods=Subquery(
                lines.annotate(total=Sum(goods)).values("total"), output_field=MoneyField()
            ),
            due=Min("lines__expected_on", filter=Q(lines__closed=False, state=STATE.SENT)),
        )
        .order_by("-drafted_on", "-pk")
    )


def overdue(rows: QuerySet[PurchaseOrder], day: date) -> QuerySet[PurchaseOrder]:
    """Sent orders with a line that should be here."""
    return rows.filter(state=STATE.SENT, due__lt=day)


def lines_of(order: PurchaseOrder, day: date) -> list[OrderedLine]:
    """Every line, its receipts and the day on which the rest is expected now."""
    lines = list(
        order.lines.select_related("item", "offer__supplier", "order__supplier").prefetch_related(
            "receipts"
        )
    )
    found = arrivals_by_item(day, [line.item_id for line in lines])
    arrivals = {arrival.line.pk: arrival for rows in found.values() for arrival in rows}
    lots = _lots([receipt.posting_id for line in lines for receipt in line.receipts.all()])
    return [
        OrderedLine(
            line,
            arrivals.get(line.pk),
            [Receipt(receipt, lots.get(receipt.posting_id)) for receipt in line.receipts.all()],
        )
        for line in lines
    ]


def offers_to_order(day: date) -> QuerySet[Offer]:
    """Offers that a new order may take, by item."""
    return valid_offers(day).order_by("item__code", "-preferred", "supplier__name")


def newest_order_line() -> int:
    """Id of the order line entered last, 0 without any."""
    return OrderLine.objects.aggregate(newest=Max("pk"))["newest"] or 0


def suppliers_of(offers: Iterable[int]) -> int:
    """How many suppliers these offers are from."""
    return Offer.objects.filter(pk__in=list(offers)).values("supplier").distinct().count()


def _lots(postings: list[int]) -> dict[int, object]:
    moves = Movement.objects.filter(posting__in=postings).select_related("lot")
    return {move.posting_id: move.lot for move in moves}
