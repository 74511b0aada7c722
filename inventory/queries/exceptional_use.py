"""Use outside batches that stands out, or that forecasts leave out because it won't come again."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import QuerySet, Sum

from inventory.models import Item, Movement, Posting

KIND = Posting.Kind
TAKEN = [KIND.ISSUE, KIND.CUT]
OWN_USE = ("", "batch", "made", "fitted", "scrap")
"""Reasons of what the shop's own work takes, which its builds tell, and of what is thrown away."""

LOOKED_BACK = timedelta(weeks=52)
STANDS_OUT = Decimal("0.5")
"""Share of a year's use that one occasion must exceed to be asked about; common practice, no source."""


@dataclass(frozen=True)
class Occasion:
    """Use of one item for one purpose on one day, in stock units; posting: any entry of it.

    share: of all that was used of the item in the past year, by batches too.
    """

    day: date
    qty: Decimal
    reason: str
    note: str
    posting: int
    share: Decimal
    left_out: bool

    @property
    def stands_out(self) -> bool:
        return not self.left_out and self.share > STANDS_OUT


def outside_batches() -> QuerySet[Posting]:
    """Entries of stock taken for something else than the shop's batches; undone ones left out."""
    taken = Posting.objects.filter(kind__in=TAKEN, batch__isnull=True, reversed_by__isnull=True)
    return taken.exclude(reason__in=OWN_USE)


def same_occasion(posting: Posting) -> QuerySet[Posting]:
    """The entries of that day about the same items, for the same reason and with the same note.

    Several pieces are taken by several entries. Empty when it is no use outside batches.
    """
    if not outside_batches().filter(pk=posting.pk).exists():
        return Posting.objects.none()
    items = posting.movements.values("item")
    return (
        outside_batches()
        .filter(day=posting.day, reason=posting.reason, note=posting.note)
        .filter(movements__item__in=items)
        .distinct()
        .order_by("pk")
    )


def occasions_to_tell(item: Item, day: date) -> list[Occasion]:
    """Those of the past year that stand out or are left out, the newest first."""
    year = Movement.objects.filter(
        item=item, day__gt=day - LOOKED_BACK, day__lte=day, posting__reversed_by__isnull=True
    )
    total = -(year.filter(kind__in=TAKEN).aggregate(used=Sum("qty"))["used"] or Decimal(0))
    used: dict[tuple[date, str, str, bool], list] = defaultdict(lambda: [Decimal(0), 0])
    rows = year.filter(posting__in=outside_batches()).values_list(
        "day", "posting__reason", "posting__note", "posting__exceptional", "qty", "posting"
    )
    for when, reason, note, exceptional, qty, posting in rows:
        occasion = used[when, reason, note, exceptional is not None]
        occasion[0] -= qty
        occasion[1] = posting
    told = [
        Occasion(when, qty, reason, note, posting, qty / total, left_out)
        for (when, reason, note, left_out), (qty, posting) in used.items()
        if total > 0
    ]
    told = [one for one in told if one.left_out or one.stands_out]
    return sorted(told, key=lambda one: one.day, reverse=True)
