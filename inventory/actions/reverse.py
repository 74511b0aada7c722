"""The opposite of a wrong posting; the wrong one stays readable."""

from datetime import date

from inventory.actions.orders import locked_order
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.actions.wear import INTO_A_MACHINE
from inventory.errors import WrongState
from inventory.models import OrderReceipt, Posting, PurchaseOrder, User


@action
def reverse_posting(
    *, posting: Posting, day: date, note: str = "", by: User | None = None
) -> Posting:
    """Post every movement of a posting with the opposite sign.

    Refuses a second reversal, a reversal of a reversal, one that stock no longer allows, and the
    fitting of a cutter: it would be in the machine and in stock.
    A reversed delivery opens its order line again.
    """
    lock_items(posting.movements.values_list("item_id", flat=True))
    if Posting.objects.filter(reverses=posting).exists():
        raise WrongState("That entry was reversed before. Nothing was changed.")
    if posting.kind == Posting.Kind.REVERSE:
        raise WrongState("A reversal isn't reversed. Enter what really happened instead.")
    if posting.reason == INTO_A_MACHINE:
        raise WrongState(
            "That entry took a cutter into a machine. Take it out as removed early on its own page "
            "instead; it can be fitted again, and its life goes on."
        )
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


def _take_back(receipt: OrderReceipt) -> None:
    order = locked_order(receipt.line.order)
    line = order.lines.get(pk=receipt.line_id)
    line.received_qty -= receipt.qty
    line.closed = False
    line.save(update_fields=["received_qty", "closed"])
    order.state = PurchaseOrder.State.SENT
    order.save(update_fields=["state"])
    receipt.delete()
