"""What was counted becomes the balance; the difference is posted with a reason."""

from datetime import date
from decimal import Decimal

from django.db.models import Sum

from inventory.actions.numbering import PIECE, next_number
from inventory.actions.posting import Entry, lock_items, place_of, post
from inventory.actions.request import action
from inventory.errors import Refused, WrongState
from inventory.models import Balance, Lot, Piece, Place, Posting, Reservation, User
from inventory.models.piece import size_in_stock_unit
from inventory.queries.what_became import left_of


@action
def count_lot(
    *,
    lot: Lot,
    place: Place,
    counted: Decimal,
    day: date,
    reason: str,
    note: str = "",
    by: User | None = None,
) -> Posting | None:
    """Set the balance of a lot at a place to what was counted; None when it was right.

    A difference needs a reason. Where fewer are there than batches hold, the newest of them let go
    of the rest: what isn't there can't be held.
    """
    if counted < 0:
        raise Refused(f"{lot.item.code}: a count can't be below zero, but got {counted}.")
    lock_items([lot.item_id])
    balance = Balance.objects.filter(lot=lot, place=place, piece__isnull=True).first()
    difference = counted - (balance.qty if balance else Decimal(0))
    if not difference:
        return None
    _refuse_without_reason(lot, reason)
    entries = [difference_of_lot(lot, place, difference)]
    return post("count", entries, day=day, by=by, reason=reason, note=note)


@action
def count_piece(
    *,
    piece: Piece,
    length_um: int,
    day: date,
    reason: str,
    width_um: int | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting | None:
    """Correct a piece: length 0 says that it is gone; None when it was right.

    A piece that is there but shorter becomes a remnant under a new label; one that was booked out
    but lies there comes back whole, unless remnants of it are in stock. It can't have grown. A
    batch that held a piece which isn't there, or not whole, lets go of it.
    """
    if length_um < 0 or (width_um or 0) < 0:
        raise Refused(f"Piece {piece.label}: a size can't be below zero. Enter 0 if it is gone.")
    lock_items([piece.lot.item_id])
    balance = Balance.objects.select_related("place").filter(piece=piece).first()
    same = (length_um, width_um or piece.width_um) == (piece.length_um, piece.width_um)
    if (balance and same) or (balance is None and length_um == 0):
        return None
    _refuse_without_reason(piece.lot, reason)
    place = balance.place if balance else place_of(piece.lot.item, None)
    entries = piece_as_found(piece, length_um, width_um, place)
    return post("count", entries, day=day, by=by, reason=reason, note=note)


def difference_of_lot(lot: Lot, place: Place, difference: Decimal) -> Entry:
    """The entry that corrects a lot; batches let go of what isn't there."""
    _let_go(lot, None, _in_lot(lot) + difference)
    return Entry(lot, place, difference)


def piece_as_found(piece: Piece, length_um: int, width_um: int | None, place: Place) -> list[Entry]:
    """Entries after which the piece lies at that place in that size; length 0 when it is gone.

    A batch lets go of a piece that isn't there, or not whole.
    """
    balance = Balance.objects.select_related("place").filter(piece=piece).first()
    entries = [Entry(piece.lot, balance.place, -balance.qty, piece)] if balance else []
    whole = (length_um, width_um or piece.width_um) == (piece.length_um, piece.width_um)
    if balance and not whole:
        _let_go(piece.lot, piece, Decimal(0))
    if length_um and not balance:
        refuse_while_cut_up(piece)
    if length_um and whole:
        entries.append(Entry(piece.lot, place, piece.quantity, piece))
    elif length_um:
        entries.append(_shorter(piece, length_um, width_um or piece.width_um, place))
    return entries


def _in_lot(lot: Lot) -> Decimal:
    return Balance.objects.filter(lot=lot).aggregate(total=Sum("qty"))["total"] or Decimal(0)


def _let_go(lot: Lot, piece: Piece | None, left: Decimal) -> None:
    """Shrink what is held of a lot (or piece) to what is left of it, the newest holds first."""
    held = list(Reservation.objects.filter(lot=lot, piece=piece, is_open=True).order_by("-pk"))
    over = sum((hold.qty for hold in held), Decimal(0)) - left
    for hold in held:
        if over <= 0:
            break
        given_up = min(hold.qty, over)
        over -= given_up
        if given_up == hold.qty:
            hold.is_open = False
        else:
            hold.qty -= given_up
        hold.save(update_fields=["qty", "is_open"])


def _shorter(piece: Piece, length_um: int, width_um: int | None, place: Place) -> Entry:
    if length_um > piece.length_um or (width_um or 0) > (piece.width_um or 0):
        raise Refused(
            f"Piece {piece.label} was received smaller than that. If it is another piece, "
            "receive it as one of its own."
        )
    found = Piece.objects.create(
        lot=piece.lot,
        label=next_number(PIECE, Piece, "label"),
        length_um=length_um,
        width_um=width_um,
        parent=piece,
    )
    return Entry(piece.lot, place, size_in_stock_unit(length_um, width_um), found)


def refuse_while_cut_up(piece: Piece) -> None:
    """Raise WrongState for a piece that is in stock under other labels: it isn't whole as well."""
    left = left_of(piece)
    if left and left.lot_id != piece.lot_id:
        raise WrongState(
            f"Piece {piece.label} is in stock as {left.label}, since its lot was in doubt. Label it "
            "so, or undo that entry."
        )
    if left:
        raise WrongState(
            f"Piece {piece.label} was cut, and its remnant {left.label} is in stock. Reverse the "
            "cut if it never happened."
        )


def _refuse_without_reason(lot: Lot, reason: str) -> None:
    if not reason:
        raise Refused(f"{lot.item.code}: the count differs from the record. Say why.")
