"""Stock moved from one place to another: a shelf, or a vendor's premises."""

from datetime import date
from decimal import Decimal

from inventory.actions.issue import balance_of
from inventory.actions.posting import Entry, post
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Lot, Piece, Place, Posting, User


@action
def move_stock(
    *,
    lot: Lot,
    place_to: Place,
    day: date,
    place_from: Place | None = None,
    qty: Decimal | None = None,
    piece: Piece | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Move a quantity of a lot, or one whole piece."""
    if piece is not None:
        balance = balance_of(piece)
        place_from, qty = balance.place, balance.qty
    if place_from is None or qty is None or qty <= 0:
        raise Refused(f"{lot.item.code}: say how much to move, and from where.")
    if place_from == place_to:
        raise Refused(f"{lot.item.code}: it already lies at {place_to.name}.")
    entries = [Entry(lot, place_from, -qty, piece), Entry(lot, place_to, qty, piece)]
    return post("transfer", entries, day=day, by=by, note=note)
