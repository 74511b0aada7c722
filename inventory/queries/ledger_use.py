"""What the ledger says was used of items over stretches of days, and where nothing was left."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate, pairwise

from django.db.models import Min, QuerySet, Sum
from django.db.models.functions import Coalesce

from inventory.models import Balance, Batch, Movement, Posting, Reservation

KIND = Posting.Kind
USED = [KIND.ISSUE, KIND.CUT, KIND.RETURN]
OUT_FOR_DAYS = 7
"""So long without any on hand, and what was wanted is no longer known; common practice, no source."""


@dataclass(frozen=True)
class UseRecord:
    """Use of one item up to and including each day on which some was taken or came back."""

    days: tuple[date, ...] = ()
    total: tuple[float, ...] = ()

    def between(self, after: date, until: date) -> float:
        """Used after one day up to and including another, in stock units."""
        return self._up_to(until) - self._up_to(after)

    def _up_to(self, day: date) -> float:
        place = bisect_right(self.days, day)
        return self.total[place - 1] if place else 0.0


def use_records(after: date, until: date) -> dict[int, UseRecord]:
    """By item id: taken for work or cut, less what came back; undone entries left out.

    Taken for batches and outside of them. What a batch takes counts on the day it began, as
    forecasts reckon, whatever day it was booked; what one in work still holds counts as taken. What
    counts find and what is thrown away isn't use: no forecast reckons with it.
    """
    taken: dict[int, dict[date, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for item, day, moved in _booked(after, until):
        taken[item][day] -= moved
    for item, day, held in _still_held(after, until):
        taken[item][day] += held
    return {item: _record(by_day) for item, by_day in taken.items()}


def _booked(after: date, until: date) -> QuerySet:
    """Item, day and what moved; a batch is booked on the day it began or later."""
    moved = Movement.objects.filter(
        day__gt=after, kind__in=USED, posting__reversed_by__isnull=True
    ).annotate(on=Coalesce("posting__batch__started_on", "day"))
    rows = moved.filter(on__gt=after, on__lte=until).order_by().values_list("item", "on")
    return rows.annotate(moved=Sum("qty"))


def _still_held(after: date, until: date) -> QuerySet:
    held = Reservation.objects.filter(
        is_open=True,
        batch__state=Batch.State.IN_WORK,
        batch__started_on__gt=after,
        batch__started_on__lte=until,
    )
    rows = held.order_by().values_list("item", "batch__started_on")
    return rows.annotate(held=Sum("qty"))


def _record(by_day: dict[date, Decimal]) -> UseRecord:
    days = sorted(by_day)
    totals = accumulate(by_day[day] for day in days)
    return UseRecord(tuple(days), tuple(float(total) for total in totals))


def first_day_of_ledger() -> date | None:
    return Movement.objects.aggregate(first=Min("day"))["first"]


@dataclass(frozen=True)
class StockRecord:
    """Stock of one item at the end of its days: from each day on, until the next."""

    since: tuple[date, ...]
    stock: tuple[Decimal, ...]

    def ran_out(self, after: date, until: date) -> bool:
        """Whether none was on hand for a week or more of these days."""
        ends = [*self.since[1:], date.max]
        return any(
            not stock and self._days(begun, end, after, until) >= OUT_FOR_DAYS
            for begun, end, stock in zip(self.since, ends, self.stock, strict=True)
        )

    @staticmethod
    def _days(begun: date, end: date, after: date, until: date) -> int:
        first = max(begun, after + timedelta(days=1))
        return (min(end, until + timedelta(days=1)) - first).days


def stock_records(items: Iterable[int], after: date) -> dict[int, StockRecord]:
    """By item id, from the end of that day on; reckoned backwards from what is there now."""
    ids = list(items)
    now = dict(
        Balance.objects.filter(item__in=ids).order_by().values_list("item").annotate(Sum("qty"))
    )
    changes: dict[int, list[tuple[date, Decimal]]] = defaultdict(list)
    rows = Movement.objects.filter(item__in=ids, day__gt=after).order_by("item", "-day")
    for item, day, moved in rows.values_list("item", "day").annotate(moved=Sum("qty")):
        changes[item].append((day, moved))
    return {item: _backwards(changes[item], now.get(item, Decimal(0)), after) for item in ids}


def _backwards(changes: list[tuple[date, Decimal]], now: Decimal, after: date) -> StockRecord:
    """Changes the newest first; neighbours with the same stock become one."""
    steps, stock = [], now
    for day, moved in changes:
        steps.append((day, stock))
        stock -= moved
    steps.append((after, stock))
    steps.reverse()
    kept = [steps[0], *(new for old, new in pairwise(steps) if bool(new[1]) != bool(old[1]))]
    return StockRecord(tuple(day for day, _ in kept), tuple(qty for _, qty in kept))
