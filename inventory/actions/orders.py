"""Purchase orders: drafted from the reorder list, sent, received, closed or cancelled."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

from inventory.actions.numbering import ORDER, next_number
from inventory.actions.posting import lock_items, refuse_impossible_day
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused, WrongState
from inventory.models import (
    Offer,
    OrderLine,
    OrderReceipt,
    Posting,
    PurchaseOrder,
    Supplier,
    User,
)

MOST_PACKS = 100_000


@action
def draft_order(
    *,
    supplier: Supplier,
    lines: Sequence[tuple[Offer, int]],
    day: date,
    note: str = "",
    by: User | None = None,
) -> PurchaseOrder:
    """Draft an order of so many packs of each offer, at today's prices.

    Refuses an empty order, another supplier's offer, an ended offer, or fewer than the minimum.
    """
    if not lines:
        raise Refused(f"An order to {supplier.name} needs at least one line.")
    order = PurchaseOrder.objects.create(
        number=next_number(ORDER, PurchaseOrder, "number"),
        supplier=supplier,
        drafted_on=day,
        note=note,
    )
    for offer, packs in lines:
        _refuse_bad_line(supplier, offer, packs, day)
        OrderLine.objects.create(
            order=order,
            offer=offer,
            item=offer.item,
            packs=packs,
            qty=offer.pack_qty * packs,
            pack_price=offer.price_at(packs),
            lead_days=offer.lead_days,
        )
    return order


@action
def draft_orders(
    *, packs: Mapping[int, int], day: date, seen: int | None = None, by: User | None = None
) -> PurchaseOrder:
    """Draft one order for each supplier from offer id -> packs; return the first of them.

    seen: id of the newest order line that the list knew of. Refuses items that stand on a newer
    one: somebody else, or another window, has ordered them meanwhile.
    """
    offers = Offer.objects.select_related("supplier", "item").prefetch_related("price_breaks")
    by_supplier: dict[Supplier, list[tuple[Offer, int]]] = defaultdict(list)
    for offer in offers.filter(pk__in=packs).order_by("supplier__name", "item__code"):
        by_supplier[offer.supplier].append((offer, packs[offer.pk]))
    if not by_supplier:
        raise Refused("Tick at least one line to order.")
    items = [offer.item_id for lines in by_supplier.values() for offer, _ in lines]
    lock_items(items)
    if seen is not None:
        _refuse_ordered_meanwhile(items, seen)
    drafts = [
        draft_order(supplier=supplier, lines=lines, day=day, note="from the reorder list", by=by)
        for supplier, lines in by_supplier.items()
    ]
    return drafts[0]


@action
def send_order(
    *, order: PurchaseOrder, day: date, expected_on: date | None = None, by: User | None = None
) -> PurchaseOrder:
    """Mark a draft as sent; lines are expected after their quoted lead time unless a day is given."""
    order = locked_order(order)
    _refuse_unless(order, PurchaseOrder.State.DRAFT, "sent")
    refuse_impossible_day(day)
    if day < order.drafted_on:
        raise Refused(
            f"Order {order.number} was drafted on {show_day(order.drafted_on)}, "
            f"after {show_day(day)}."
        )
    order.state, order.sent_on = PurchaseOrder.State.SENT, day
    order.save(update_fields=["state", "sent_on"])
    for line in order.lines.all():
        line.expected_on = expected_on or day + timedelta(days=line.lead_days)
        line.save(update_fields=["expected_on"])
    return order


@action
def cancel_order(*, order: PurchaseOrder, note: str = "", by: User | None = None) -> PurchaseOrder:
    """Cancel a draft, or a sent order of which nothing has come yet."""
    order = locked_order(order)
    if order.state not in (PurchaseOrder.State.DRAFT, PurchaseOrder.State.SENT):
        raise WrongState(f"Order {order.number} is {order.get_state_display()}; it stays.")
    if OrderReceipt.objects.filter(line__order=order).exists():
        raise WrongState(
            f"Order {order.number} has come in part. Close the lines that won't come instead."
        )
    order.state, order.note = PurchaseOrder.State.CANCELLED, note or order.note
    order.save(update_fields=["state", "note"])
    order.lines.update(closed=True)
    return order


@action
def close_order_line(*, line: OrderLine, by: User | None = None) -> OrderLine:
    """Say that the rest of a line won't come."""
    order = locked_order(line.order)
    _refuse_unless(order, PurchaseOrder.State.SENT, "closed")
    line = order.lines.get(pk=line.pk)
    line.closed = True
    line.save(update_fields=["closed"])
    _finish_when_complete(order)
    return line


def note_receipt(line: OrderLine, posting: Posting, qty: Decimal, day: date) -> OrderReceipt:
    """Set a delivery against its order line; part of receiving, not an action of its own.

    Refuses an order that isn't sent, or a day before it was.
    """
    order = locked_order(line.order)
    line = order.lines.get(pk=line.pk)
    _refuse_unless(order, PurchaseOrder.State.SENT, "received")
    if day < order.sent_on:
        raise Refused(
            f"Order {order.number} was sent on {show_day(order.sent_on)}, after {show_day(day)}."
        )
    line.received_qty += qty
    line.closed = line.received_qty >= line.qty
    line.save(update_fields=["received_qty", "closed"])
    receipt = OrderReceipt.objects.create(line=line, posting=posting, qty=qty, day=day)
    _finish_when_complete(order)
    return receipt


def _refuse_ordered_meanwhile(items: Sequence[int], seen: int) -> None:
    newer = OrderLine.objects.filter(item__in=items, pk__gt=seen).exclude(
        order__state=PurchaseOrder.State.CANCELLED
    )
    rows = newer.order_by("pk").values_list("item__code", "order__number")
    if rows:
        told = ", ".join(f"{item} on {order}" for item, order in rows)
        raise Refused(
            f"Ordered since this list was opened: {told}. Nothing was drafted; look at the list as "
            "it is now, and draft what is still wanted."
        )


def locked_order(order: PurchaseOrder) -> PurchaseOrder:
    """The order as it is now; nobody else changes it or its lines until the action ends."""
    return PurchaseOrder.objects.select_for_update().get(pk=order.pk)


def _finish_when_complete(order: PurchaseOrder) -> None:
    if not order.lines.filter(closed=False).exists():
        order.state = PurchaseOrder.State.RECEIVED
        order.save(update_fields=["state"])


def _refuse_unless(order: PurchaseOrder, state: str, verb: str) -> None:
    if order.state != state:
        raise WrongState(
            f"Order {order.number} is {order.get_state_display()}; only one that is {state} "
            f"can be {verb}."
        )


def _refuse_bad_line(supplier: Supplier, offer: Offer, packs: int, day: date) -> None:
    code = offer.item.code
    if offer.supplier_id != supplier.pk:
        raise Refused(f"{code}: that offer isn't from {supplier.name}.")
    if offer.valid_to and offer.valid_to < day:
        raise Refused(f"{code}: that offer ended on {offer.valid_to}. Choose a newer one.")
    if packs < offer.minimum_packs:
        raise Refused(
            f"{code}: {supplier.name} sells at least {offer.minimum_packs} × {offer.pack_name}, "
            f"but got {packs}."
        )
    if packs > MOST_PACKS:
        raise Refused(f"{code}: {packs} × {offer.pack_name} is more than any shop orders.")
