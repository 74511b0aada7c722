"""A count of the shelf: a list is started, counted line by line, and dropped or posted.

A counted line is stamped with what the ledger said at that moment. Only the difference is posted
(inventory.actions.post_count), so that what moves while the count goes on isn't counted twice.
"""

from datetime import date
from decimal import Decimal

from django.utils import timezone

from inventory.actions.count import refuse_impossible_size
from inventory.actions.numbering import COUNT, next_number
from inventory.actions.posting import lock_items
from inventory.actions.request import action
from inventory.errors import Refused, WrongState, WrongUnit
from inventory.models import Balance, CountLine, Item, Lot, Place, StockCount, User
from inventory.models.piece import size_in_stock_unit
from inventory.queries.stock_count import CountScope, balances_to_count

MOST_LINES = 2000
NOTHING = Decimal(0)


@action
def start_count(
    *,
    day: date,
    place: Place | None = None,
    kind: str = "",
    value_class: str = "",
    idle_days: int | None = None,
    by: User | None = None,
) -> StockCount:
    """Open a list of what lies at a place, of a kind, of a class, or wasn't counted for so long.

    Refuses a list of nothing, and one that nobody counts in a day.
    """
    scope = CountScope(place, kind, value_class, idle_days)
    balances = list(balances_to_count(scope, day)[: MOST_LINES + 1])
    if not balances:
        raise Refused(f"Nothing is there to count: {scope}. Choose more.")
    if len(balances) > MOST_LINES:
        raise Refused(f"More than {MOST_LINES} lines: {scope}. Choose one place or one kind.")
    count = StockCount.objects.create(
        number=next_number(COUNT, StockCount, "number"), what=str(scope)[:80], by=by
    )
    CountLine.objects.bulk_create(
        CountLine(count=count, lot=each.lot, piece=each.piece, place=each.place)
        for each in balances
    )
    return count


@action
def enter_count(*, line: CountLine, counted: Decimal, by: User | None = None) -> CountLine:
    """Note how much of a lot lies there, against the ledger's balance of this moment."""
    line = line_of_open_count(line)
    item = line.lot.item
    if line.piece is not None:
        raise WrongUnit(f"{item.code} is kept in pieces. Say whether piece {line.piece} is there.")
    if counted < 0:
        raise Refused(f"{item.code}: a count can't be below zero, but got {counted}.")
    if item.stock_unit == Item.Unit.EACH and counted != counted.to_integral_value():
        raise WrongUnit(f"{item.code} is counted in whole pieces, but got {counted.normalize()}.")
    return stamp(line, counted)


@action
def enter_piece(
    *, line: CountLine, length_um: int, width_um: int | None = None, by: User | None = None
) -> CountLine:
    """Note the size in which a piece lies there; length 0 says that it isn't there.

    Without a width a sheet has the width of its label. Refuses a piece that has grown.
    """
    line = line_of_open_count(line)
    piece = line.piece
    if piece is None:
        raise WrongUnit(f"{line.lot.item.code} isn't kept in pieces. Enter how much is there.")
    width_um = width_um or piece.width_um
    refuse_impossible_size(piece, length_um, width_um, "enter it as found without a label")
    line.counted_length_um, line.counted_width_um = length_um, width_um
    return stamp(line, size_in_stock_unit(length_um, width_um) if length_um else NOTHING)


@action
def ask_recount(*, line: CountLine, again: bool = True, by: User | None = None) -> CountLine:
    """Ask for a line to be counted again, or take that back; the first figure is kept."""
    line = line_of_open_count(line)
    if line.counted is None:
        raise WrongState(f"{line.lot.item.code}: that line isn't counted yet. Count it.")
    line.recount = again
    line.save(update_fields=["recount"])
    return line


@action
def drop_count(*, count: StockCount, by: User | None = None) -> StockCount:
    """End a list without posting anything; the stock stays as it is recorded."""
    count = open_count(count)
    end_count(count, StockCount.State.DROPPED)
    return count


def open_count(count: StockCount) -> StockCount:
    """The list, locked until the action ends. Raises: WrongState when it has ended."""
    count = StockCount.objects.select_for_update().get(pk=count.pk)
    if count.state != StockCount.State.OPEN:
        raise WrongState(f"Count {count.number} is {count.get_state_display()}. Start another one.")
    return count


def line_of_open_count(line: CountLine) -> CountLine:
    """The line as it stands now, its list locked. Raises: WrongState when the list has ended."""
    open_count(line.count)
    return CountLine.objects.select_related("lot__item", "piece", "place").get(pk=line.pk)


def stamp(line: CountLine, counted: Decimal) -> CountLine:
    """Write down what was counted and what the ledger says at this moment; keep the first figure."""
    lock_items([line.lot.item_id])
    balance = Balance.objects.filter(lot=line.lot, piece=line.piece, place=line.place).first()
    if line.first_counted is None:
        line.first_counted = line.counted
    line.counted, line.expected = counted, balance.qty if balance else NOTHING
    line.counted_at = timezone.now()
    line.times += 1
    line.recount = False
    line.save()
    return line


def end_count(count: StockCount, state: str) -> None:
    """Close a list; lots written down for it that never came into stock go with it.

    One that stands on another list as well stays until that list ends.
    """
    for lot in Lot.objects.filter(pk__in=count.lines.values("lot"), movements__isnull=True):
        count.lines.filter(lot=lot).delete()
        if CountLine.objects.filter(lot=lot).exists():
            continue
        lot.pieces.all().delete()
        lot.delete()
    count.state, count.ended_at = state, timezone.now()
    count.save(update_fields=["state", "ended_at"])
