"""A piece of which nobody can say any more which lot it came from."""

from datetime import date

from inventory.actions.issue import balance_of
from inventory.actions.lots import add_note
from inventory.actions.numbering import LOT, PIECE, next_number
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Lot, Piece, User
from inventory.queries.what_became import LOT_UNKNOWN


@action
def doubt_lot(*, piece: Piece, day: date, note: str, by: User | None = None) -> Piece:
    """Take a piece out of its lot and put it into one of its own that is unknown.

    It goes on under a new label and only practice cuts may be made from it, until somebody tells
    which material it is. Refuses without a note, and a piece that is gone or held for a batch.
    """
    lock_items([piece.lot.item_id])
    balance = balance_of(piece)
    if not note:
        raise Refused(f"Piece {piece.label}: say in a note why its lot is in doubt.")
    doubted = _unknown_lot(piece, day, note, by)
    found = Piece.objects.create(
        lot=doubted,
        label=next_number(PIECE, Piece, "label"),
        length_um=piece.length_um,
        width_um=piece.width_um,
        thickness_um=piece.thickness_um,
        squared=piece.squared,
    )
    entries = [
        Entry(piece.lot, balance.place, -balance.qty, piece),
        Entry(doubted, balance.place, balance.qty, found),
    ]
    post("count", entries, day=day, by=by, reason=LOT_UNKNOWN, note=note)
    return found


def _unknown_lot(piece: Piece, day: date, note: str, by: User | None) -> Lot:
    lot = Lot(
        item=piece.lot.item,
        number=next_number(LOT, Lot, "number"),
        status=Lot.Status.UNKNOWN,
        received_on=day,
        unit_cost=piece.lot.unit_cost,
    )
    add_note(lot, f"was piece {piece.label} of lot {piece.lot.number}: {note}", by)
    lot.save()
    return lot
