"""The stored forecast as pages read it: products, items, what really happened before."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import QuerySet

from inventory.models import (
    Batch,
    BatchLine,
    ForecastRun,
    Item,
    ItemForecast,
    Movement,
    Posting,
    Product,
    ProductForecast,
)
from inventory.queries.reorder_list import ReorderLine, reorder_lines

PAST_WEEKS = 52
STATE = Batch.State


@dataclass(frozen=True)
class Week:
    """A week of the past, from its Monday: how much was begun or used."""

    monday: date
    amount: float


@dataclass(frozen=True)
class AheadWeek:
    """A week ahead: expected, and the range that holds it 9 times in 10."""

    monday: date
    low: float
    mean: float
    high: float


@dataclass(frozen=True)
class StockWeek:
    """Stock at the end of a week, deliveries on order counted when expected; never below 0.

    low: with use exceeded once in 20 times; high: with use fallen short of once in 20 times.
    """

    day: date
    low: float
    mean: float
    high: float


@dataclass(frozen=True)
class UsedBy:
    """A product that uses the item: stock units a knife, and knives expected a week."""

    product: str
    per_knife: float
    knives_per_week: float | None

    @property
    def per_week(self) -> float | None:
        return None if self.knives_per_week is None else self.per_knife * self.knives_per_week


def products_of(run: ForecastRun) -> list[ProductForecast]:
    return list(run.products.select_related("product").order_by("product__code"))


def items_of(run: ForecastRun) -> QuerySet[ItemForecast]:
    return run.items.select_related("item").order_by("item__code")


def product_ahead(forecast: ProductForecast) -> list[AheadWeek]:
    """Knives begun in each week ahead."""
    return [
        AheadWeek(date.fromisoformat(monday), low, mean, high)
        for monday, mean, low, _, high in forecast.weeks
    ]


def item_ahead(forecast: ItemForecast) -> list[AheadWeek]:
    """Use from the run's day to the end of each week, in stock units."""
    return [
        AheadWeek(date.fromisoformat(monday), low, mean, high)
        for monday, mean, low, _, _, high in forecast.weeks
    ]


def builds_by_week(product: Product, day: date) -> list[Week]:
    """Knives begun in each of the past weeks, those before the records and empty weeks included."""
    since = day - timedelta(weeks=PAST_WEEKS)
    lines = product.batch_lines.filter(
        batch__started_on__gt=since,
        batch__started_on__lte=day,
        batch__state__in=[STATE.IN_WORK, STATE.FINISHED],
    )
    past = product.past_builds.filter(day__gt=since, day__lte=day)
    recorded = lines.values_list("batch__started_on", "start_qty")
    return _by_week([*past.values_list("day", "started"), *recorded], day)


def use_by_week(item: Item, day: date) -> list[Week]:
    """Stock units used in each of the past weeks; undone entries and what was thrown away left out."""
    used = Movement.objects.filter(
        item=item,
        day__gt=day - timedelta(weeks=PAST_WEEKS),
        day__lte=day,
        posting__kind__in=[Posting.Kind.ISSUE, Posting.Kind.CUT],
        posting__reversed_by__isnull=True,
    )
    return _by_week(((on, -qty) for on, qty in used.values_list("day", "qty")), day)


def plan_of(product: Product) -> list[BatchLine]:
    """Batches still to start, which stand in the forecast instead of it."""
    return list(
        product.batch_lines.filter(batch__state__in=[STATE.PLANNED, STATE.RESERVED])
        .select_related("batch")
        .order_by("batch__start_on", "pk")
    )


def live_line(forecast: ItemForecast, day: date) -> ReorderLine | None:
    """The item's reorder line on stock as it is now; None when nothing of it is expected to be used."""
    return next(iter(reorder_lines(forecast.run, day, [forecast.item_id])), None)


def stock_ahead(line: ReorderLine, day: date) -> list[StockWeek]:
    """Stock from today to the end of each week ahead."""
    here = float(line.position - line.stock.on_order - line.drafted)
    weeks = [StockWeek(day, here, here, here)]
    before = (0.0, 0.0, 0.0)
    for week in item_ahead(line.forecast):
        end = week.monday + timedelta(days=6)
        use = (week.low, week.mean, week.high)
        if end < day:
            before = use
            continue
        came = sum(float(due.qty) for due in line.arrivals if due.day <= end)
        least, expected, most = (
            max(here + came - (total - gone), 0.0) for total, gone in zip(use, before, strict=True)
        )
        weeks.append(StockWeek(end, most, expected, least))
    return weeks


def used_by(forecast: ItemForecast) -> list[UsedBy]:
    """Products that use the item, the biggest user first."""
    knives = dict(
        ProductForecast.objects.filter(run=forecast.run_id).values_list(
            "product__code", "knives_per_week"
        )
    )
    rows = [UsedBy(code, each, knives.get(code)) for code, each in forecast.per_knife.items()]
    return sorted(rows, key=lambda row: -(row.per_week or 0))


def _by_week(records: Iterable[tuple[date, Decimal | int]], day: date) -> list[Week]:
    totals: dict[date, float] = defaultdict(float)
    for on, amount in records:
        totals[_monday(on)] += float(amount)
    last = _monday(day)
    mondays = [last - timedelta(weeks=back) for back in range(PAST_WEEKS, -1, -1)]
    return [Week(monday, totals[monday]) for monday in mondays]


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())
