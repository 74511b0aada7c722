"""Classes of every item by the value used in a year and by how evenly it is used."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Min, Sum
from django.db.models.functions import TruncMonth

from forecasting.stock_classes import use_class, value_ranks
from inventory.models import Item, Movement, Posting
from inventory.queries.unit_costs import unit_costs

MONTHS = 12
USE = (Posting.Kind.ISSUE, Posting.Kind.CUT, Posting.Kind.RETURN)


@dataclass(frozen=True)
class StockClass:
    """Classes of one item; each empty when nothing tells it."""

    value: str
    use: str


def stock_classes(day: date) -> dict[int, StockClass]:
    """Classes by item id, from the last twelve whole months; services have none.

    Value is use times unit cost. An item without a known cost gets no value class, nor does any
    while nothing was used. Months before an item's first movement don't count as months without use.
    """
    items = {item.pk: item for item in Item.objects.exclude(kind=Item.Kind.SERVICE)}
    months = _whole_months(day)
    use = _use_by_month(months, day)
    costs = unit_costs(items.values(), day)
    values = {
        item.code: max(0.0, float(sum(use[pk].values(), Decimal(0)) * costs[item.code].amount))
        for pk, item in items.items()
        if item.code in costs
    }
    ranks = value_ranks(values) if any(values.values()) else []
    letters = {rank.item: rank.letter for rank in ranks}
    first = _first_months()
    return {
        pk: StockClass(
            value=letters.get(item.code, ""),
            use=use_class(
                [float(use[pk][month]) for month in months if month >= first.get(pk, day)]
            ),
        )
        for pk, item in items.items()
    }


def _whole_months(day: date) -> list[date]:
    """First days of the twelve months that ended before this one, the oldest first."""
    months = []
    first = day.replace(day=1)
    for _ in range(MONTHS):
        first = (first - timedelta(days=1)).replace(day=1)
        months.insert(0, first)
    return months


def _use_by_month(months: list[date], day: date) -> dict[int, dict[date, Decimal]]:
    """item id -> month -> used in it; what was undone is left out."""
    used = (
        Movement.objects.filter(
            kind__in=USE,
            day__gte=months[0],
            day__lt=day.replace(day=1),
            posting__reversed_by__isnull=True,
        )
        .order_by()
        .values_list("item", TruncMonth("day"))
        .annotate(total=Sum("qty"))
    )
    use: dict[int, dict[date, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for item, month, total in used:
        use[item][month] = -total
    return use


def _first_months() -> dict[int, date]:
    """item id -> first day of the month of its first movement."""
    firsts = Movement.objects.order_by().values_list("item").annotate(first=Min("day"))
    return {item: first.replace(day=1) for item, first in firsts}
