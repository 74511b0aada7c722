"""What the counts of an item found so far: when, how far off, and why."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum
from django.utils import timezone

from inventory.models import CountLine, Item, Movement, Posting, StockCount

REMEMBERED = timedelta(days=730)
SHOWN = 6


@dataclass(frozen=True)
class PastCount:
    """One count of an item, of all its lots and pieces on it.

    difference: what was posted, in the stock unit, 0 when it agreed. number: of its list, empty
    when one lot or piece was counted by itself.
    """

    day: date
    difference: Decimal
    reason: str
    number: str = ""


@dataclass(frozen=True)
class CountHistory:
    """The newest counts of two years, the newest first, and how long ago the last one was."""

    counts: list[PastCount]
    idle_days: int | None

    @property
    def drift(self) -> Decimal:
        """Sum of the differences shown: below zero when more goes than is written down."""
        return sum((past.difference for past in self.counts), Decimal(0))


def count_history(item: Item, today: date) -> CountHistory:
    """Counts of an item; entries that were undone don't count.

    idle_days: since the last count; None when it was never counted.
    """
    posted = _posted(item, today - REMEMBERED)
    counts = _from_lists(item, today - REMEMBERED, posted)
    counts += [PastCount(day, qty, reason) for day, qty, reason in posted.values()]
    counts.sort(key=lambda past: past.day, reverse=True)
    idle = (today - counts[0].day).days if counts else None
    return CountHistory(counts[:SHOWN], idle)


def _posted(item: Item, since: date) -> dict[int, tuple[date, Decimal, str]]:
    """posting id -> (day, difference, reason) of every count that stands."""
    rows = (
        Movement.objects.filter(
            item=item, kind=Posting.Kind.COUNT, day__gte=since, posting__reversed_by__isnull=True
        )
        .order_by()
        .values_list("posting", "day", "posting__reason")
        .annotate(total=Sum("qty"))
    )
    return {posting: (day, total, reason) for posting, day, reason, total in rows}


def _from_lists(
    item: Item, since: date, posted: dict[int, tuple[date, Decimal, str]]
) -> list[PastCount]:
    """One count for each posted list the item was on; takes what lists posted out of `posted`."""
    lines = CountLine.objects.filter(
        lot__item=item,
        count__state=StockCount.State.POSTED,
        counted_at__date__gte=since,
        posting__reversed_by__isnull=True,
    ).select_related("count")
    by_list: dict[str, list[CountLine]] = defaultdict(list)
    for line in lines:
        by_list[line.count.number].append(line)
    counts = []
    for number, counted in by_list.items():
        found = [posted.pop(line.posting_id) for line in counted if line.posting_id in posted]
        counts.append(
            PastCount(
                day=max(timezone.localdate(line.counted_at) for line in counted),
                difference=sum((qty for _, qty, _ in found), Decimal(0)),
                reason=", ".join(sorted({reason for _, _, reason in found})),
                number=number,
            )
        )
    return counts
