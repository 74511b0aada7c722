"""A piece that was taken and not used goes back to the shelf."""

from datetime import date

from inventory.actions.count import refuse_while_cut_up
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.errors import WrongState
from inventory.models import Balance, Batch, Piece, Place, Posting, User
from inventory.queries.lot_at_hand import last_taken


@action
def return_piece(
    *,
    piece: Piece,
    day: date,
    reason: str,
    place: Place | None = None,
    batch: Batch | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Put a whole piece back where it was taken from, unless another place is named.

    Refuses a piece that is in stock, one that never was taken out, and one that was cut up.
    """
    lock_items([piece.lot.item_id])
    if Balance.objects.filter(piece=piece).exists():
        raise WrongState(f"Piece {piece.label} is in stock already. Nothing was changed.")
    taken = last_taken(piece.lot, piece)
    if taken is None:
        raise WrongState(
            f"Piece {piece.label} wasn't taken out by an entry that stands. If it lies there, "
            "measure it instead."
        )
    refuse_while_cut_up(piece)
    entry = Entry(piece.lot, place or taken.place, piece.quantity, piece)
    return post("return", [entry], day=day, by=by, reason=reason, note=note, batch=batch)
