"""What left stock outside of batches, month by month: for which reason, or for none."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Count, QuerySet, Sum
from django.db.models.functions import TruncMonth

from inventory.models import Item, Movement, Posting

KIND = Posting.Kind
TAKEN_OR_BACK = [KIND.ISSUE, KIND.CUT, KIND.SCRAP, KIND.RETURN]
INTO_WORK = ("made", "fitted")
"""Reasons of what goes into parts made in house and into machines."""

UNEXPLAINED, FOUND = "unexplained", "found"
EXPLAINED = ("dropped or lost", "short pack")
MONTHS = 12


@dataclass(frozen=True)
class OutsideUse:
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
    moved = Movement.objects.filter(
        day__gte=_first_month(until, months),
        day__lte=until,
        posting__batch__isnull=True,
        posting__reversed_by__isnull=True,
    )
    taken = moved.filter(kind__in=TAKEN_OR_BACK).exclude(posting__reason__in=INTO_WORK)
    rows = [(row, row["posting__reason"] or UNEXPLAINED, row["entries"]) for row in _summed(taken)]
    # Of a piece that was measured shorter both lines count, so counts are netted entry by entry.
    counted = _summed(moved.filter(kind=KIND.COUNT), "posting")
    rows += [(row, _reason_of_count(row), 1) for row in counted if row["moved"]]
    return _added_up(rows)


def _first_month(until: date, months: int) -> date:
    past = until.year * 12 + until.month - months
    return date(past // 12, past % 12 + 1, 1)


def _summed(moved: QuerySet[Movement], *by: str) -> QuerySet:
    grouped = moved.order_by().annotate(month=TruncMonth("day"))
    keys = ("month", "posting__reason", "item", "unit_cost", *by)
    return grouped.values(*keys).annotate(moved=Sum("qty"), entries=Count("posting", distinct=True))


def _reason_of_count(row: dict) -> str:
    if row["moved"] > 0:
        return FOUND
    return row["posting__reason"] if row["posting__reason"] in EXPLAINED else UNEXPLAINED


def _added_up(rows: Iterable[tuple[dict, str, int]]) -> list[OutsideUse]:
    sums: dict[tuple[date, str, int], list] = defaultdict(lambda: [Decimal(0), Decimal(0), 0])
    for row, reason, entries in rows:
        total = sums[row["month"], reason, row["item"]]
        total[0] -= row["moved"]
        total[1] -= row["moved"] * row["unit_cost"]
        total[2] += entries
    items = Item.objects.in_bulk({item for _, _, item in sums})
    used = [
        OutsideUse(month, reason, items[item], qty, value, entries)
        for (month, reason, item), (qty, value, entries) in sums.items()
        if qty
    ]
    return sorted(used, key=lambda use: (use.month, use.value, use.item.code), reverse=True)
