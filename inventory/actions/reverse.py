"""The opposite of a wrong posting; the wrong one stays readable."""

from collections import defaultdict
from datetime import date
from decimal import Decimal

from inventory.actions.orders import locked_order
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.actions.wear import INTO_A_MACHINE
from inventory.days import show_day
from inventory.errors import Refused, WrongState
from inventory.models import (
    Batch,
    CountLine,
    Lot,
    Movement,
    OrderReceipt,
    Posting,
    PurchaseOrder,
    StockCount,
    User,
)
from inventory.queries.counts_after import FOUND
from inventory.queries.lot_at_hand import TAKEN, out_of_lot
from inventory.units import show_quantity


@action
def reverse_posting(
    *, posting: Posting, day: date, note: str = "", by: User | None = None
) -> Posting:
    """Post every movement of a posting with the opposite sign.

    Refuses a second reversal, a reversal of a reversal, a day before the entry's own, one that stock
    no longer allows, what was taken and came back by an entry of its own, what was counted since, the
    cuts of a batch that goes on, and the fitting of a cutter: it would be in the machine and in stock.
    A reversed delivery opens its order line again.
    """
    if posting.reason == INTO_A_MACHINE:
        raise WrongState(
            "That entry took a cutter into a machine. Take it out as removed early on its own page "
            "instead; it can be fitted again, and its life goes on."
        )
    return undo_posting(posting, day=day, by=by, note=note)


def undo_posting(posting: Posting, *, day: date, by: User | None, note: str = "") -> Posting:
    """The same inside another action, for the fitting of a cutter that is undone too."""
    lock_items(posting.movements.values_list("item_id", flat=True))
    if Posting.objects.filter(reverses=posting).exists():
        raise WrongState("That entry was reversed before. Nothing was changed.")
    if posting.kind == Posting.Kind.REVERSE:
        raise WrongState("A reversal isn't reversed. Enter what really happened instead.")
    if day < posting.day:
        raise Refused(
            f"Entry {posting.pk} is of {show_day(posting.day)}; it can't be undone on "
            f"{show_day(day)}, before it. Enter the day on which it was put right."
        )
    _refuse_cuts_of_a_batch(posting)
    _refuse_counted_since(posting)
    _refuse_what_came_back(posting)
    entries = [
        Entry(movement.lot, movement.place, -movement.qty, movement.piece)
        for movement in posting.movements.select_related("lot__item", "place", "piece")
    ]
    reversal = post(
        Posting.Kind.REVERSE,
        entries,
        day=day,
        by=by,
        note=note,
        batch=posting.batch,
        reverses=posting,
    )
    for receipt in posting.order_receipts.select_related("line__order"):
        _take_back(receipt)
    return reversal


def _refuse_cuts_of_a_batch(posting: Posting) -> None:
    """Knives can't go on without their steel: the batch is cancelled first."""
    batch = posting.batch
    if (
        posting.kind == Posting.Kind.CUT
        and batch is not None
        and batch.state != Batch.State.CANCELLED
    ):
        raise WrongState(
            f"Batch {batch.number} was cut from that and is {batch.get_state_display()}. Cancel the "
            "batch first if it was never cut, or measure the pieces if they differ."
        )


def _refuse_counted_since(posting: Posting) -> None:
    """A count has put the balance right already; undoing what came before would shift it again."""
    if posting.kind == Posting.Kind.COUNT:
        return
    for movement in posting.movements.filter(piece__isnull=True).select_related("lot__item"):
        if counted := _counted_since(movement, posting):
            raise WrongState(
                f"{movement.lot.item.code}: lot {movement.lot.number} was counted since, {counted}, "
                "and is right by that. Count it again if it isn't."
            )


def _counted_since(movement: Movement, posting: Posting) -> str:
    """Where a later count of the same lot and place stands, in words; empty when there is none."""
    lines = CountLine.objects.filter(
        lot=movement.lot,
        place=movement.place,
        counted_at__gt=posting.at,
        count__state=StockCount.State.POSTED,
    )
    if line := lines.select_related("count").last():
        return f"on list {line.count.number}"
    entries = Movement.objects.filter(
        lot=movement.lot,
        place=movement.place,
        kind=Posting.Kind.COUNT,
        posting__gt=posting.pk,
        posting__reversed_by__isnull=True,
    ).exclude(posting__reason=FOUND)
    entry = entries.order_by("-posting").first()
    return f"by entry {entry.posting_id}" if entry else ""


def _refuse_what_came_back(posting: Posting) -> None:
    taken: dict[Lot, Decimal] = defaultdict(Decimal)
    for movement in posting.movements.filter(kind__in=TAKEN, qty__lt=0).select_related("lot__item"):
        taken[movement.lot] -= movement.qty
    for lot, qty in taken.items():
        back = qty - out_of_lot(lot)
        if back > 0:
            raise WrongState(
                f"{lot.item.code}: {show_quantity(back, lot.item.stock_unit)} of that came back to "
                f"lot {lot.number} by another entry. Undo that return first."
            )


def _take_back(receipt: OrderReceipt) -> None:
    order = locked_order(receipt.line.order)
    line = order.lines.get(pk=receipt.line_id)
    line.received_qty -= receipt.qty
    line.closed = False
    line.save(update_fields=["received_qty", "closed"])
    order.state = PurchaseOrder.State.SENT
    order.save(update_fields=["state"])
    receipt.delete()
