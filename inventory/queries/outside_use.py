"""What left stock outside of batches, month by month: for which reason, or for none."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.db import connection
from django.db.models import Case, Count, QuerySet, Sum, Value, When

from inventory.fields import QuantityField, UnitCostField
from inventory.models import Item, Movement, Posting
from inventory.queries.counts_after import FOUND

KIND = Posting.Kind
TAKEN_OR_BACK = [KIND.ISSUE, KIND.CUT, KIND.SCRAP, KIND.RETURN]
INTO_WORK = ("made", "fitted")
"""Reasons of what goes into parts made in house and into machines."""

UNEXPLAINED = "unexplained"
EXPLAINED = ("dropped or lost", "short pack")
MONTHS = 12

QTY, COST = QuantityField.places, UnitCostField.places
Key = tuple[int, str, int]
"""Age in months, reason, and id of the item."""


class OutsideUse(NamedTuple):
    """One item in one month for one reason; qty in its stock unit, below zero for what was found.

    month: its first day. value: at what the lots cost; lots of unknown cost count nothing.
    """

    month: date
    reason: str
    item: Item
    qty: Decimal
    value: Decimal
    entries: int


def outside_use(until: date, months: int = MONTHS) -> list[OutsideUse]:
    """The newest month first, within it the dearest first; entries that were undone don't count.

    What was brought back is taken off the reason it had been taken for. What a count finds
    missing is unexplained, unless it says dropped, lost or short in the pack.
    """
    starts = _months_back(until, months)
    # Chosen by the posting alone: it is read along its days, and its few movements with it.
    moved = Movement.objects.filter(
        posting__day__gte=starts[-1],
        posting__day__lte=until,
        posting__batch__isnull=True,
        posting__reversed_by__isnull=True,
    )
    taken = moved.filter(posting__kind__in=TAKEN_OR_BACK).exclude(posting__reason__in=INTO_WORK)
    rows = [
        ((age, reason or UNEXPLAINED, item), cost, qty, entries)
        for age, reason, item, cost, qty, entries in _summed(taken, starts)
    ]
    # Of a piece that was measured shorter both lines count, so counts are netted entry by entry.
    counted = _summed(moved.filter(posting__kind=KIND.COUNT), starts, "posting")
    rows += [
        ((age, _reason_of_count(reason, qty), item), cost, qty, 1)
        for age, reason, item, cost, qty, _ in counted
        if qty
    ]
    return _added_up(rows, starts)


def _months_back(until: date, months: int) -> list[date]:
    """First days of the month of that day and of so many before it, the newest first."""
    this = until.year * 12 + until.month - 1
    return [date(past // 12, past % 12 + 1, 1) for past in range(this, this - months, -1)]


def _summed(moved: QuerySet[Movement], starts: Sequence[date], *by: str) -> list[tuple]:
    """Age in months, reason, item, unit cost, quantity moved and number of entries.

    Cost and quantity are the whole numbers of the database; decimals are made of the sums alone.
    """
    # Compared by the database itself: cutting a day to its month is a call for each row in SQLite.
    age = Case(*(When(posting__day__gte=day, then=Value(n)) for n, day in enumerate(starts)))
    keys = ("age", "posting__reason", "item", "unit_cost")
    sums = {"moved": Sum("qty"), "entries": Count("posting", distinct=True)}
    grouped = moved.order_by().annotate(age=age).values(*keys, *by).annotate(**sums)
    with connection.cursor() as cursor:
        cursor.execute(*grouped.values_list(*keys, *sums).query.sql_with_params())
        return cursor.fetchall()


def _reason_of_count(reason: str, qty: int) -> str:
    if qty > 0:
        return FOUND
    return reason if reason in EXPLAINED else UNEXPLAINED


def _added_up(
    rows: Iterable[tuple[Key, int, int, int]], starts: Sequence[date]
) -> list[OutsideUse]:
    sums: dict[Key, tuple[int, int, int]] = {}
    for key, cost, qty, entries in rows:
        used, value, entered = sums.get(key, (0, 0, 0))
        sums[key] = used - qty, value - qty * cost, entered + entries
    items = Item.objects.in_bulk({item for _, _, item in sums})
    used = [
        OutsideUse(
            starts[age],
            reason,
            items[item],
            Decimal(qty).scaleb(-QTY),
            Decimal(value).scaleb(-QTY - COST),
            entries,
        )
        for (age, reason, item), (qty, value, entries) in sums.items()
        if qty
    ]
    return sorted(used, key=lambda use: (use.month, use.value, use.item.code), reverse=True)
