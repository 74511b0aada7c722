"""When what is missing could be here: open orders first, else an order placed today."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Q, QuerySet

from inventory.models import Offer, OrderLine, PurchaseOrder

LEAST_MORE = timedelta(days=3)


@dataclass(frozen=True)
class Arrival:
    """What an open order line still brings; `late` days past its expected day."""

    line: OrderLine
    day: date
    qty: Decimal
    late: int


def arrivals_by_item(day: date, items: Iterable[int] | None = None) -> dict[int, list[Arrival]]:
    """Outstanding order lines by item id, the earliest first.

    An overdue line is expected later, as long again as it is late already (at least 3 days, at
    most its quoted lead time): common practice, no source. It is never counted as here.
    """
    lines = OrderLine.objects.filter(order__state=PurchaseOrder.State.SENT, closed=False)
    if items is not None:
        lines = lines.filter(item__in=list(items))
    arrivals: dict[int, list[Arrival]] = defaultdict(list)
    for line in lines.select_related("order__supplier", "item", "offer"):
        late = max((day - line.expected_on).days, 0) if line.expected_on else 0
        expected = _expected_again(line, day, late)
        arrivals[line.item_id].append(Arrival(line, expected, line.outstanding, late))
    for found in arrivals.values():
        found.sort(key=lambda arrival: (arrival.day, arrival.line.pk))
    return arrivals


def covered_on(
    short: Decimal, arrivals: list[Arrival], offer: Offer | None, day: date
) -> tuple[date | None, str]:
    """Day on which a shortage could be covered, and by what; None when nobody sells the item."""
    coming = Decimal(0)
    for arrival in arrivals:
        coming += arrival.qty
        if coming >= short:
            return arrival.day, f"order {arrival.line.order.number}"
    if offer is None:
        return None, "no supplier offers it"
    return day + timedelta(days=offer.lead_days), f"an order to {offer.supplier.name} today"


def current_offers(day: date, items: Iterable[int] | None = None) -> dict[int, Offer]:
    """The offer to use by item id: valid today, the preferred one, else the shortest lead time."""
    offers = valid_offers(day)
    if items is not None:
        offers = offers.filter(item__in=list(items))
    chosen: dict[int, Offer] = {}
    for offer in offers.order_by("item", "-preferred", "lead_days", "pk"):
        chosen.setdefault(offer.item_id, offer)
    return chosen


def valid_offers(day: date) -> QuerySet[Offer]:
    """Offers that can be ordered on that day, with supplier, item and prices."""
    return (
        Offer.objects.filter(Q(valid_to__isnull=True) | Q(valid_to__gte=day), valid_from__lte=day)
        .select_related("supplier", "item")
        .prefetch_related("price_breaks")
    )


def _expected_again(line: OrderLine, day: date, late: int) -> date:
    if line.expected_on is None:
        return day + timedelta(days=line.lead_days)
    if not late:
        return line.expected_on
    more = min(timedelta(days=late), timedelta(days=line.lead_days))
    return day + max(more, LEAST_MORE)
