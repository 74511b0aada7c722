"""The differences of a count become entries of the ledger, one for each line."""

from collections.abc import Mapping

from django.utils import timezone

from inventory.actions.count import difference_of_lot, piece_as_found
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.actions.stock_count import end_count, open_count
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import Balance, CountLine, StockCount, User
from inventory.queries.stock_count import counted_again_since, lines_of


@action
def post_count(
    *,
    count: StockCount,
    reason: str = "",
    reasons: Mapping[int, str] | None = None,
    note: str = "",
    seen: int | None = None,
    by: User | None = None,
) -> StockCount:
    """Post what every counted line found to differ, on the day it was counted.

    Lines that weren't counted stay as recorded. Each entry can be undone by itself.

    reason: of every line that has none of its own in `reasons` (line id -> reason).
    seen: figures that were entered when the differences were looked at; more of them are refused,
    since nobody has looked at those.
    Refuses a list of which nothing is counted or a line waits to be counted again, a difference
    without a reason, and a line whose stock was counted otherwise, or went away, since.
    """
    count = open_count(count)
    lines = [line for line in lines_of(count) if line.counted is not None]
    if not lines:
        raise Refused(f"Nothing of count {count.number} is counted yet. Count it, or drop it.")
    if any(line.recount for line in lines):
        raise WrongState(f"Count {count.number}: a line waits to be counted again. Count it first.")
    if seen is not None and seen != sum(line.times for line in lines):
        raise WrongState(
            f"Count {count.number}: somebody counted on while you looked at it. Look at the "
            "differences again; nothing was posted."
        )
    lock_items(line.lot.item_id for line in lines)
    for line in lines:
        if line.counted != line.expected:
            line.reason = (reasons or {}).get(line.pk) or reason
            _post_line(line, note, by)
    end_count(count, StockCount.State.POSTED)
    return count


def _post_line(line: CountLine, note: str, by: User | None) -> None:
    code = line.lot.item.code
    if not line.reason:
        raise Refused(f"{code}: the count differs from the record. Say why.")
    if other := counted_again_since(line):
        raise WrongState(
            f"{code}: {_what(line)} was counted by entry {other.pk}, after this line. "
            "Count the line again."
        )
    entries = _piece_entries(line) if line.piece else _lot_entries(line)
    if entries:
        day = timezone.localdate(line.counted_at)
        about = f"count {line.count.number}{f': {note}' if note else ''}"
        line.posting = post("count", entries, day=day, by=by, reason=line.reason, note=about[:200])
    line.save(update_fields=["reason", "posting"])


def _lot_entries(line: CountLine) -> list[Entry]:
    difference = line.counted - line.expected
    balance = Balance.objects.filter(lot=line.lot, place=line.place).first()
    if difference < 0 and (balance is None or balance.qty + difference < 0):
        raise NotEnough(_changed(line))
    return [difference_of_lot(line.lot, line.place, difference)]


def _piece_entries(line: CountLine) -> list[Entry]:
    """What is still to be booked of a piece: nothing when the ledger agrees by now."""
    there = Balance.objects.filter(piece=line.piece).first()
    at_place = there is not None and there.place_id == line.place_id
    if not line.counted:
        return piece_as_found(line.piece, 0, None, line.place) if at_place else []
    if line.expected and there is None:
        raise NotEnough(_changed(line))
    if at_place and line.counted == line.piece.quantity:
        return []
    return piece_as_found(line.piece, line.counted_length_um, line.counted_width_um, line.place)


def _what(line: CountLine) -> str:
    return f"piece {line.piece.label}" if line.piece else f"lot {line.lot.number}"


def _changed(line: CountLine) -> str:
    return (
        f"{line.lot.item.code}: so much of {_what(line)} left {line.place.name} since it was "
        "counted that the count can't be right. Count the line again."
    )
