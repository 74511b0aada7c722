"""Counts of the shelf: what a list covers, how far it is, and what it found."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum

from inventory.models import Balance, CountLine, Item, Movement, Place, Posting, StockCount
from inventory.queries.unit_costs import unit_costs

NOTHING = Decimal(0)
THE_SAME = Q(piece=OuterRef("piece")) | Q(
    piece__isnull=True, lot=OuterRef("lot"), place=OuterRef("place")
)


@dataclass(frozen=True)
class CountScope:
    """What a list covers; what isn't named doesn't narrow it."""

    place: Place | None = None
    kind: str = ""
    value_class: str = ""
    idle_days: int | None = None

    def __str__(self) -> str:
        parts = [
            self.place.name if self.place else "",
            Item.Kind(self.kind).label if self.kind else "",
            f"class {self.value_class}" if self.value_class else "",
            f"not counted for {self.idle_days} days" if self.idle_days else "",
        ]
        return ", ".join(part for part in parts if part) or "the whole shop"


def balances_to_count(scope: CountScope, day: date) -> QuerySet[Balance]:
    """What lies within the scope, in the order of a walk: place, item, lot, piece.

    Vendors' premises only count when they are the place named. What came in within the idle days
    counts as known.
    """
    rows = Balance.objects.select_related("lot", "piece", "place")
    rows = (
        rows.filter(place=scope.place) if scope.place else rows.filter(place__supplier__isnull=True)
    )
    if scope.kind:
        rows = rows.filter(item__kind=scope.kind)
    if scope.value_class:
        rows = rows.filter(item__value_class=scope.value_class)
    if scope.idle_days:
        rows = _idle(rows, day - timedelta(days=scope.idle_days))
    return rows.order_by("place__name", "item__code", "lot_id", F("piece__label").asc())


def _idle(rows: QuerySet[Balance], since: date) -> QuerySet[Balance]:
    listed = CountLine.objects.filter(
        THE_SAME, count__state=StockCount.State.POSTED, counted_at__date__gte=since
    )
    counted = Movement.objects.filter(THE_SAME, kind=Posting.Kind.COUNT, day__gte=since)
    return rows.filter(~Exists(listed), ~Exists(counted), lot__received_on__lt=since)


def counts_with_progress() -> QuerySet[StockCount]:
    """Every list with `line_count`, and `counted_count` of those that need no second look."""
    counted = Q(lines__counted__isnull=False, lines__recount=False)
    return StockCount.objects.select_related("by").annotate(
        line_count=Count("lines"), counted_count=Count("lines", filter=counted)
    )


def lines_of(count: StockCount) -> QuerySet[CountLine]:
    """Lines in the order of the walk, with what a page shows of them."""
    return count.lines.select_related("lot__item", "piece", "place").order_by(
        "place__name", "lot__item__code", "lot_id", F("piece__label").asc(nulls_first=True)
    )


def lines_to_count(count: StockCount) -> list[CountLine]:
    """Lines not counted yet, or to be counted again."""
    return list(lines_of(count).filter(Q(counted__isnull=True) | Q(recount=True)))


def next_line(count: StockCount, after: CountLine | None = None) -> CountLine | None:
    """The next line to count behind that one on the walk, from the start again at its end."""
    walk = list(lines_of(count).values_list("pk", "counted", "recount"))
    if after is not None:
        here = next((n for n, (pk, _, _) in enumerate(walk) if pk == after.pk), -1)
        walk = walk[here + 1 :] + walk[: here + 1]
    due = next((pk for pk, counted, again in walk if counted is None or again), None)
    return None if due is None else lines_of(count).get(pk=due)


@dataclass(frozen=True)
class CountDifference:
    """One line that differs from the record.

    value: of the difference; None when no cost is known. since: what moved after the line was
    counted; it is no part of the difference.
    """

    line: CountLine
    difference: Decimal
    value: Decimal | None
    since: Decimal


@dataclass(frozen=True)
class CountReview:
    """What a list found: differences, the largest value first, and the rest in numbers.

    entered: figures entered so far, those of lines counted again included.
    """

    differences: list[CountDifference]
    agreeing: int
    uncounted: int
    again: int
    entered: int

    @property
    def total(self) -> Decimal:
        return sum((each.value or NOTHING for each in self.differences), NOTHING)

    @property
    def without_cost(self) -> int:
        return sum(each.value is None for each in self.differences)


def review(count: StockCount, day: date) -> CountReview:
    """Compare every counted line with the record at the moment it was counted."""
    counted = Q(counted__isnull=False)
    differing = list(lines_of(count).filter(counted).exclude(counted=F("expected")))
    numbers = count.lines.aggregate(
        uncounted=Count("pk", filter=~counted),
        counted=Count("pk", filter=counted),
        again=Count("pk", filter=Q(recount=True)),
        entered=Sum("times"),
    )
    costs = unit_costs({line.lot.item for line in differing}, day)
    moved = _moved_since(differing)
    found = []
    for line in differing:
        difference = line.counted - line.expected
        cost = line.lot.unit_cost or getattr(costs.get(line.lot.item.code), "amount", None)
        value = None if cost is None else difference * cost
        found.append(CountDifference(line, difference, value, moved[line.pk]))
    found.sort(key=lambda each: (-abs(each.value or NOTHING), each.line.pk))
    return CountReview(
        differences=found,
        agreeing=numbers["counted"] - len(differing),
        uncounted=numbers["uncounted"],
        again=numbers["again"],
        entered=numbers["entered"] or 0,
    )


def counted_again_since(lines: Sequence[CountLine]) -> dict[int, int]:
    """Line id -> newest other count of the same stock after the line, of those that stand."""
    if not lines:
        return {}
    by_key = _by_key(lines)
    rows = Movement.objects.filter(
        lot__in={line.lot_id for line in lines},
        kind=Posting.Kind.COUNT,
        posting__at__gt=min(line.counted_at for line in lines),
        posting__reversed_by__isnull=True,
    ).order_by("pk")
    again = {}
    for *key, at, posting in rows.values_list("lot", "piece", "place", "posting__at", "posting"):
        line = by_key.get(tuple(key))
        if line and at > line.counted_at:
            again[line.pk] = posting
    return again


def _by_key(lines: Sequence[CountLine]) -> dict[tuple[int, int | None, int], CountLine]:
    return {(line.lot_id, line.piece_id, line.place_id): line for line in lines}


def _moved_since(lines: list[CountLine]) -> dict[int, Decimal]:
    """Line id -> sum of what else moved at its place after it was counted."""
    moved = dict.fromkeys((line.pk for line in lines), NOTHING)
    if not lines:
        return moved
    by_key = _by_key(lines)
    rows = Movement.objects.filter(
        lot__in={line.lot_id for line in lines},
        posting__at__gt=min(line.counted_at for line in lines),
    ).exclude(posting__in=[line.posting_id for line in lines if line.posting_id])
    for *key, at, qty in rows.values_list("lot", "piece", "place", "posting__at", "qty"):
        line = by_key.get(tuple(key))
        if line and at > line.counted_at:
            moved[line.pk] += qty
    return moved
