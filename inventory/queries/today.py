"""What needs a decision today, and the first steps of a new shop."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Q, Sum

from inventory.models import (
    Balance,
    Batch,
    BillOfMaterials,
    Item,
    Lot,
    Offer,
    OrderLine,
    Product,
    PurchaseOrder,
)
from inventory.queries.batch_answer import BatchAnswer, known_answers
from inventory.queries.batches import planned_until

AHEAD = timedelta(weeks=3)
EXPIRY_AHEAD = timedelta(days=60)


@dataclass(frozen=True)
class PlannedBatch:
    """A batch that is to start soon; answer None while it has to be worked out."""

    batch: Batch
    answer: BatchAnswer | None


@dataclass(frozen=True)
class LotMatter:
    """A lot with stock that somebody has to decide about; qty in the item's stock unit."""

    lot: Lot
    qty: Decimal


@dataclass(frozen=True)
class OverdueOrder:
    """A sent order with lines that should be here; days since the earliest was expected."""

    order: PurchaseOrder
    lines: list[OrderLine]
    days: int


@dataclass(frozen=True)
class FirstSteps:
    """What a new shop has entered so far."""

    items: bool
    offers: bool
    bills: bool
    stock: bool

    @property
    def all_done(self) -> bool:
        return self.items and self.offers and self.bills and self.stock


def planned_batches(day: date) -> list[PlannedBatch]:
    """Batches to start within three weeks, with the answers known already."""
    batches = list(planned_until(day + AHEAD))
    known = known_answers(batches, day) if batches else {}
    return [PlannedBatch(batch, known.get(batch.pk)) for batch in batches]


def overdue_orders(day: date) -> list[OverdueOrder]:
    """Sent orders with something still to come that was expected earlier, the latest first."""
    late = OrderLine.objects.filter(
        order__state=PurchaseOrder.State.SENT, closed=False, expected_on__lt=day
    ).select_related("order__supplier", "item")
    by_order: dict[PurchaseOrder, list[OrderLine]] = defaultdict(list)
    for line in late.order_by("expected_on", "pk"):
        by_order[line.order].append(line)
    return [
        OverdueOrder(order, lines, (day - lines[0].expected_on).days)
        for order, lines in by_order.items()
    ]


def expiring_lots(day: date) -> list[LotMatter]:
    """Released lots with stock that have expired or will within sixty days, the oldest first."""
    ending = Q(status=Lot.Status.RELEASED, expires_on__lte=day + EXPIRY_AHEAD)
    return _lots_with_stock(ending, "expires_on")


def waiting_lots() -> list[LotMatter]:
    """Lots with stock that are received but not released, or in quarantine or rejected."""
    return _lots_with_stock(~Q(status=Lot.Status.RELEASED), "received_on")


def first_steps() -> FirstSteps:
    return FirstSteps(
        items=Item.objects.exists(),
        offers=Offer.objects.exists(),
        bills=BillOfMaterials.objects.filter(
            status=BillOfMaterials.Status.ACTIVE, product__in=Product.objects.all()
        ).exists(),
        stock=Balance.objects.exists(),
    )


def _lots_with_stock(which: Q, order: str) -> list[LotMatter]:
    lots = (
        Lot.objects.filter(which, balances__isnull=False)
        .select_related("item")
        .annotate(there=Sum("balances__qty"))
        .order_by(order, "pk")
    )
    return [LotMatter(lot, lot.there) for lot in lots]
