"""What was counted becomes the balance; the difference is posted with a reason."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

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
    entries = [Entry(lot, place, difference)]
    let_go(entries)
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
    refuse_impossible_size(piece, length_um, width_um, "receive it as one of its own")
    lock_items([piece.lot.item_id])
    balance = Balance.objects.select_related("place").filter(piece=piece).first()
    same = (length_um, width_um or piece.width_um) == (piece.length_um, piece.width_um)
    if (balance and same) or (balance is None and length_um == 0):
        return None
    _refuse_without_reason(piece.lot, reason)
    place = balance.place if balance else place_of(piece.lot.item, None)
    entries = piece_as_found(piece, length_um, width_um, place, balance)
    let_go(entries)
    return post("count", entries, day=day, by=by, reason=reason, note=note)


def piece_as_found(
    piece: Piece, length_um: int, width_um: int | None, place: Place, there: Balance | None
) -> list[Entry]:
    """Entries after which the piece lies at that place in that size; length 0 when it is gone.

    there: its balance by now, None when it is out of stock.
    """
    width_um = width_um or piece.width_um
    entries = [Entry(piece.lot, there.place, -there.qty, piece)] if there else []
    if length_um and not there:
        refuse_while_cut_up(piece)
    if length_um and (length_um, width_um) == (piece.length_um, piece.width_um):
        entries.append(Entry(piece.lot, place, piece.quantity, piece))
    elif length_um:
        entries.append(_shorter(piece, length_um, width_um, place))
    return entries


def let_go(entries: Sequence[Entry]) -> None:
    """Shrink what batches hold to what these entries leave of it, the newest holds first."""
    lots = {entry.lot.pk for entry in entries}
    holds = list(Reservation.objects.filter(lot__in=lots, is_open=True).order_by("-pk"))
    over: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    for hold in holds:
        over[hold.lot_id, hold.piece_id] += hold.qty
    for balance in Balance.objects.filter(lot__in=lots):
        over[balance.lot_id, balance.piece_id] -= balance.qty
    for entry in entries:
        over[entry.lot.pk, entry.piece.pk if entry.piece else None] -= entry.qty
    for hold in holds:
        given_up = min(hold.qty, over[hold.lot_id, hold.piece_id])
        if given_up > 0:
            over[hold.lot_id, hold.piece_id] -= given_up
            _shrink(hold, given_up)


def refuse_impossible_size(
    piece: Piece, length_um: int, width_um: int | None, instead: str
) -> None:
    """Raise Refused for a size below zero, or larger than the piece was; instead: what to do then."""
    if length_um < 0 or (width_um or 0) < 0:
        raise Refused(f"Piece {piece.label}: a size can't be below zero. Enter 0 if it is gone.")
    if length_um > piece.length_um or (width_um or 0) > (piece.width_um or 0):
        raise Refused(
            f"Piece {piece.label} was received smaller than that. If it is another piece, {instead}."
        )


def _shrink(hold: Reservation, given_up: Decimal) -> None:
    if given_up == hold.qty:
        hold.is_open = False
    else:
        hold.qty -= given_up
    hold.save(update_fields=["qty", "is_open"])


def _shorter(piece: Piece, length_um: int, width_um: int | None, place: Place) -> Entry:
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
