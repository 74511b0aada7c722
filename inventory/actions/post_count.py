"""The differences of a count become entries of the ledger, one for each line."""

from collections.abc import Iterable, Mapping, Sequence

from django.utils import timezone

from inventory.actions.count import let_go, piece_as_found
from inventory.actions.posting import Entry, NewPosting, lock_items, post_together
from inventory.actions.request import action
from inventory.actions.stock_count import end_count, open_count
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import Balance, CountLine, Posting, StockCount, User
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
    differing = [line for line in lines if line.counted != line.expected]
    _give_reasons(differing, reason, reasons or {})
    _refuse_counted_again(differing)
    _post_differences(differing, note, by)
    end_count(count, StockCount.State.POSTED)
    return count


def _give_reasons(lines: Iterable[CountLine], reason: str, reasons: Mapping[int, str]) -> None:
    for line in lines:
        line.reason = reasons.get(line.pk) or reason
        if not line.reason:
            raise Refused(f"{line.lot.item.code}: the count differs from the record. Say why.")


def _refuse_counted_again(lines: Sequence[CountLine]) -> None:
    again = counted_again_since(lines)
    for line in lines:
        if other := again.get(line.pk):
            raise WrongState(
                f"{line.lot.item.code}: {_what(line)} was counted by entry {other}, after this "
                "line. Count the line again."
            )


def _post_differences(lines: Sequence[CountLine], note: str, by: User | None) -> None:
    shelf = _Shelf(lines)
    entries = {line: _entries(line, shelf) for line in lines}
    booked = [line for line in lines if entries[line]]
    let_go([entry for line in booked for entry in entries[line]])
    postings = post_together(
        Posting.Kind.COUNT,
        [
            NewPosting(
                entries[line],
                timezone.localdate(line.counted_at),
                line.reason,
                f"count {line.count.number}{f': {note}' if note else ''}"[:200],
            )
            for line in booked
        ],
        by=by,
    )
    for line, posting in zip(booked, postings, strict=True):
        line.posting = posting
    CountLine.objects.bulk_update(lines, ["reason", "posting"])


class _Shelf:
    """What the ledger says by now of the lots of these lines."""

    def __init__(self, lines: Iterable[CountLine]) -> None:
        lots = {line.lot_id for line in lines}
        balances = Balance.objects.filter(lot__in=lots).select_related("place")
        self._of_lots: dict[tuple[int, int], Balance] = {}
        self._of_pieces: dict[int, Balance] = {}
        for balance in balances:
            if balance.piece_id is None:
                self._of_lots[balance.lot_id, balance.place_id] = balance
            else:
                self._of_pieces[balance.piece_id] = balance

    def at(self, line: CountLine) -> Balance | None:
        """Where the piece of a line lies, or the lot's stock at the place of the line."""
        if line.piece_id is None:
            return self._of_lots.get((line.lot_id, line.place_id))
        return self._of_pieces.get(line.piece_id)


def _entries(line: CountLine, shelf: _Shelf) -> list[Entry]:
    there = shelf.at(line)
    return _piece_entries(line, there) if line.piece else _lot_entries(line, there)


def _lot_entries(line: CountLine, there: Balance | None) -> list[Entry]:
    difference = line.counted - line.expected
    if difference < 0 and (there is None or there.qty + difference < 0):
        raise NotEnough(_changed(line))
    return [Entry(line.lot, line.place, difference)]


def _piece_entries(line: CountLine, there: Balance | None) -> list[Entry]:
    """What is still to be booked of a piece: nothing when the ledger agrees by now."""
    at_place = there is not None and there.place_id == line.place_id
    if not line.counted:
        return piece_as_found(line.piece, 0, None, line.place, there) if at_place else []
    if line.expected and there is None:
        raise NotEnough(_changed(line))
    if at_place and line.counted == line.piece.quantity:
        return []
    size = line.counted_length_um, line.counted_width_um
    return piece_as_found(line.piece, *size, line.place, there)


def _what(line: CountLine) -> str:
    return f"piece {line.piece.label}" if line.piece else f"lot {line.lot.number}"


def _changed(line: CountLine) -> str:
    return (
        f"{line.lot.item.code}: so much of {_what(line)} left {line.place.name} since it was "
        "counted that the count can't be right. Count the line again."
    )
