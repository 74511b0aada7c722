"""Entries that come in late: dated before their lot was here, or seen by a count already."""

from collections.abc import Iterable
from datetime import date

from inventory.actions.request import is_sure
from inventory.days import show_day
from inventory.errors import NotSure, Refused
from inventory.models import Lot, Posting
from inventory.queries.counts_after import FOUND, Stock, counted_after

KIND = Posting.Kind
ASKED = {
    KIND.ISSUE: ("this use", "Take it out"),
    KIND.CUT: ("this cut", "Cut it"),
    KIND.SCRAP: ("this scrap", "Scrap it"),
    KIND.RETURN: ("this return", "Return it"),
    KIND.TRANSFER: ("this move", "Move it"),
    FOUND: ("this find", "Enter it"),
}
"""What a count may have seen, and the question, by kind of entry."""


def refuse_before_receipt(lot: Lot, day: date) -> None:
    """Raise Refused for a day on which a lot wasn't here yet."""
    if day < lot.received_on:
        raise Refused(
            f"{lot.item.code}: lot {lot.number} came in on {show_day(lot.received_on)}, after "
            f"{show_day(day)}. Enter a later day or choose another lot. If it was here before, undo "
            "its receipt and receive it on its true day."
        )


def refuse_seen_by_count(kind: str, day: date, stock: Iterable[Stock]) -> None:
    """Raise NotSure where stock was counted after the day of an entry, unless that is confirmed."""
    if kind not in ASKED or is_sure():
        return
    deed, question = ASKED[kind]
    for seen in counted_after(day, stock):
        what = f"piece {seen.piece.label}" if seen.piece else f"lot {seen.lot.number}"
        when = f"was counted on {show_day(seen.counted_on)}, after {show_day(day)}"
        if seen.piece is None:
            saw = f"the count saw {deed} already"
        elif seen.was_there != (kind == KIND.RETURN):
            saw = f"the count found it {'there' if seen.was_there else 'gone'}"
        else:
            continue
        raise NotSure(f"{seen.lot.item.code}: {what} {when}: {saw}. {question} all the same?")
