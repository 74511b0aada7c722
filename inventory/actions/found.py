"""What turns up again goes back into its lot."""

from datetime import date
from decimal import Decimal

from inventory.actions.late_entry import refuse_seen_by_count
from inventory.actions.posting import Entry, lock_items, place_of, post
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Lot, Place, Posting, User
from inventory.queries.counts_after import FOUND


@action
def find_stock(
    *,
    lot: Lot,
    qty: Decimal,
    day: date,
    place: Place | None = None,
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Book more of a lot than the record says, as a count would, without counting the rest.

    Refuses nothing found, and asks back where a later count saw it; a piece that turns up is counted in as itself (count_piece).
    """
    if qty <= 0:
        raise Refused(f"{lot.item.code}: {qty} turned up? Enter a quantity above zero.")
    lock_items([lot.item_id])
    entry = Entry(lot, place_of(lot.item, place), qty)
    refuse_seen_by_count(FOUND, day, [(lot, None, entry.place)])
    return post("count", [entry], day=day, by=by, reason=FOUND, note=note)
