"""A delivery into stock: a new lot, its pieces, and the order line it answers."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.core.files.base import File

from inventory.actions.certificate import named_after
from inventory.actions.numbering import LOT, PIECE, next_number, next_numbers
from inventory.actions.orders import note_receipt
from inventory.actions.posting import Entry, lock_items, place_of, post
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused, WrongUnit
from inventory.models import Item, Lot, OrderLine, Piece, Place, Supplier, User
from inventory.models.lot import expiry

PieceSize = tuple[int, int | None, int]
MOST_PIECES = 2000


@action
def receive_delivery(
    *,
    item: Item,
    day: date,
    qty: Decimal | None = None,
    pieces: Sequence[PieceSize] | None = None,
    offcuts: bool = False,
    place: Place | None = None,
    supplier: Supplier | None = None,
    order_line: OrderLine | None = None,
    maker_number: str = "",
    made_on: date | None = None,
    expires_on: date | None = None,
    status: str = Lot.Status.RELEASED,
    unit_cost: Decimal | None = None,
    thickness_um: int | None = None,
    usable_from: date | None = None,
    certificate: File | None = None,
    note: str = "",
    by: User | None = None,
) -> Lot:
    """Book what came in as one lot; `pieces` as (length µm, width µm or None, count).

    offcuts: the pieces are remnants of earlier work, to be used up before whole ones.
    With an order line, its price and supplier are taken over, the receipt is noted as evidence of
    the lead time, and the line is closed once nothing more is to come.
    Refuses nothing received, pieces for a counted item or the other way round, another item than
    the line's, and what was made after it came.
    """
    refuse_wrong_form(item, qty, pieces)
    refuse_wrong_lot(item, day, order_line, made_on, status, unit_cost)
    lock_items([item.pk])
    if order_line is not None:
        supplier = order_line.order.supplier
        if unit_cost is None:
            unit_cost = order_line.pack_price * order_line.packs / order_line.qty
    number = next_number(LOT, Lot, "number")
    lot = Lot.objects.create(
        item=item,
        number=number,
        maker_number=maker_number,
        status=status,
        supplier=supplier,
        received_on=day,
        made_on=made_on,
        expires_on=expires_on or expiry(item.shelf_life_days, None, made_on or day, None),
        usable_from=usable_from,
        thickness_um=thickness_um,
        unit_cost=unit_cost or Decimal(0),
        certificate=named_after(number, certificate) if certificate else "",
        note=note,
    )
    where = place_of(item, place)
    entries = (
        [Entry(lot, where, qty)]
        if pieces is None
        else [
            Entry(lot, where, piece.quantity, piece) for piece in _new_pieces(lot, pieces, offcuts)
        ]
    )
    posting = post("receive", entries, day=day, by=by, note=note)
    if order_line is not None:
        note_receipt(order_line, posting, sum((entry.qty for entry in entries), Decimal(0)), day)
    return lot


def refuse_wrong_form(item: Item, qty: Decimal | None, pieces: Sequence[PieceSize] | None) -> None:
    """Refuse nothing, pieces for a quantity or the other way round, and sizes of another form."""
    if (qty is None) == (pieces is None):
        raise Refused(f"{item.code}: say either how much came or which pieces.")
    if item.in_pieces != (pieces is not None):
        kept = "in pieces: give their sizes" if item.in_pieces else "as a quantity, not in pieces"
        raise WrongUnit(f"{item.code} is kept {kept}.")
    if qty is not None and qty <= 0:
        raise Refused(f"{item.code}: {qty} came in? Enter a quantity above zero.")
    if sum(count for _, _, count in pieces or ()) > MOST_PIECES:
        raise Refused(f"{item.code}: more than {MOST_PIECES} pieces at once. Check the count.")
    for length, width, count in pieces or ():
        if length <= 0 or count <= 0 or (width is not None and width <= 0):
            raise Refused(f"{item.code}: every piece needs a size and a count above zero.")
        if (width is not None) != (item.stock_unit == Item.Unit.MM2):
            wanted = "a length and a width" if width is None else "a length only"
            raise WrongUnit(f"{item.code}: a {item.get_kind_display()} has {wanted}.")


def refuse_wrong_lot(
    item: Item,
    day: date,
    order_line: OrderLine | None,
    made_on: date | None,
    status: str,
    unit_cost: Decimal | None,
) -> None:
    """Refuse an order line of another item, what was made after it came, and a cost below zero."""
    if order_line is not None and order_line.item_id != item.pk:
        raise Refused(
            f"Order {order_line.order.number} has {order_line.item.code} on that line, not "
            f"{item.code}. Choose the line it came for, or none."
        )
    if made_on and made_on > day:
        raise Refused(
            f"{item.code}: made on {show_day(made_on)}, after it came on {show_day(day)}? "
            "Check both days."
        )
    if status not in Lot.Status.values:
        raise Refused(f"{item.code}: “{status}” is no status of a lot. Choose one of the list.")
    if unit_cost is not None and unit_cost < 0:
        raise Refused(f"{item.code}: a cost of {unit_cost} can't be. Enter 0 or more.")


def _new_pieces(lot: Lot, sizes: Sequence[PieceSize], offcuts: bool) -> list[Piece]:
    flat = [(length, width) for length, width, count in sizes for _ in range(count)]
    labels = next_numbers(PIECE, len(flat), Piece, "label")
    return Piece.objects.bulk_create(
        Piece(lot=lot, label=label, length_um=length, width_um=width, is_offcut=offcuts)
        for label, (length, width) in zip(labels, flat, strict=True)
    )
