"""The shop's records as the tables a forecast reads; pandas lives here, so pages don't import it."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

import pandas as pd
from django.db.models import Min, Q

from inventory.models import (
    Batch,
    BatchLine,
    ExceptionalUse,
    Item,
    Movement,
    OrderLine,
    PastBuild,
    Posting,
    PurchaseOrder,
    Shop,
)
from inventory.queries.arrivals import current_offers
from inventory.queries.exceptional_use import OWN_USE
from inventory.queries.ledger_use import stock_records
from inventory.queries.planned_use import PlannedUse
from inventory.queries.usage import ItemUsage
from inventory.queries.wear_futures import stations_of_use

UNKNOWN_LEAD_DAYS = 14
"""For an item that nobody offers yet: two weeks, common practice, no source."""

WAITING = (Batch.State.PLANNED, Batch.State.RESERVED)

PLANS_LOOKED_AT = timedelta(days=730)
"""How far back plans tell how they are kept: common practice, no source."""

MOST_WEEKS_OUT = 0.5
"""Of an item that is kept in stock; common practice, no source."""


def build_history(day: date) -> pd.DataFrame:
    """product, day, qty: knives started, one row for each product of each batch begun by then.

    What was built before the records began counts like any other.
    """
    past = PastBuild.objects.filter(day__lte=day).values_list("product__code", "day", "started")
    lines = BatchLine.objects.filter(
        batch__started_on__lte=day, batch__state__in=[Batch.State.IN_WORK, Batch.State.FINISHED]
    )
    recorded = lines.order_by("batch__started_on", "pk").values_list(
        "product__code", "batch__started_on", "start_qty"
    )
    return _frame([*past, *recorded], "product", "day", "qty")


def build_plan() -> pd.DataFrame:
    """product, day, qty: batches still to start, on their planned day, past or not."""
    lines = BatchLine.objects.filter(batch__state__in=WAITING)
    rows = lines.order_by("batch__start_on", "pk").values_list(
        "product__code", "batch__start_on", "start_qty"
    )
    return _frame(rows, "product", "day", "qty")


def past_plans(day: date) -> pd.DataFrame:
    """late, outcome of every batch due in the last two years: begun, waiting still, or given up.

    One begun or given up before its day tells as well.
    """
    decided = Q(start_on__lt=day) | Q(started_on__lte=day) | Q(state=Batch.State.CANCELLED)
    due = Batch.objects.filter(decided, start_on__gt=day - PLANS_LOOKED_AT)
    rows = []
    for start_on, started_on, state in due.values_list("start_on", "started_on", "state"):
        if started_on is not None and started_on <= day:
            rows.append(((started_on - start_on).days, "begun"))
        else:
            outcome = "given up" if state == Batch.State.CANCELLED else "waiting"
            rows.append(((day - start_on).days, outcome))
    return _frame(rows, "late", "outcome")


def usage_table(usage: Iterable[ItemUsage], items: set[str]) -> pd.DataFrame:
    """product, item, station, per_knife, per_batch, scatter of the items to be forecast."""
    wanted = [row for row in usage if row.item.code in items]
    stations = stations_of_use(wanted)
    rows = [
        (
            row.product,
            row.item.code,
            stations.get((row.item.pk, row.place), ""),
            row.per_knife,
            row.per_batch,
            row.learned.scatter,
        )
        for row in wanted
    ]
    return _frame(rows, "product", "item", "station", "per_knife", "per_batch", "scatter")


def planned_use_table(rows: Iterable[PlannedUse], items: set[str]) -> pd.DataFrame:
    """item, day, qty of the items to be forecast."""
    kept = [(row.item.code, row.day, row.qty) for row in rows if row.item.code in items]
    return _frame(kept, "item", "day", "qty")


def direct_use(day: date, items: set[str]) -> pd.DataFrame:
    """item, day, qty: taken outside batches (repairs, one-offs, samples).

    Left out are reversed entries and what is known by then not to come again; what came back is
    taken off the newest use before it.
    """
    moves = (
        Movement.objects.filter(
            posting__kind__in=[Posting.Kind.ISSUE, Posting.Kind.CUT, Posting.Kind.RETURN],
            posting__batch__isnull=True,
            posting__reversed_by__isnull=True,
            day__lte=day,
            item__code__in=items,
        )
        .exclude(posting__reason__in=OWN_USE)
        .values_list("item__code", "day", "posting", "qty")
    )
    taken: dict[tuple[str, date, int], Decimal] = defaultdict(Decimal)
    for code, when, posting, qty in moves:
        taken[code, when, posting] -= qty
    known = ExceptionalUse.objects.filter(day__lte=day)
    not_again = set(known.values_list("posting", flat=True))
    rows = [
        (code, when, qty)
        for code, when, posting, qty in _less_what_came_back(sorted(taken.items()))
        if posting not in not_again
    ]
    return _frame(rows, "item", "day", "qty")


def stock_out_weeks(day: date, direct: pd.DataFrame) -> pd.DataFrame:
    """item, week (Monday): weeks in which none was left on any day, of the items used outside batches.

    From the week of the first use on record. An item that stood at zero for more than half of the
    weeks since it first came is bought when it is needed: its zeros are no stock-outs. Before it
    first came, it was not there.
    """
    if direct.empty:
        return _frame([], "item", "week")
    first = min(direct["day"])
    before = first - timedelta(days=first.weekday() + 1)
    codes = dict(Item.objects.filter(code__in=set(direct["item"])).values_list("pk", "code"))
    came = dict(
        Movement.objects.filter(item__in=codes).order_by().values_list("item").annotate(Min("day"))
    )
    mondays = [before + timedelta(days=1 + 7 * week) for week in range((day - before).days // 7)]
    rows = []
    for pk, record in stock_records(codes, before).items():
        out = [monday for monday in mondays if record.ran_out(*_week_of(monday))]
        since = [monday for monday in mondays if monday >= came[pk]]
        dry = sum(monday >= came[pk] for monday in out)
        if dry <= MOST_WEEKS_OUT * len(since):
            rows += [(codes[pk], monday) for monday in out]
    return _frame(rows, "item", "week")


def _week_of(monday: date) -> tuple[date, date]:
    """The days after and until, as ledger records ask for them."""
    return monday - timedelta(days=1), monday + timedelta(days=6)


def _less_what_came_back(
    entries: Iterable[tuple[tuple[str, date, int], Decimal]],
) -> list[tuple[str, date, int, float]]:
    """Item, day, posting and quantity of each use of which something stayed away."""
    uses: dict[str, list[tuple[date, int, Decimal]]] = defaultdict(list)
    for (code, when, posting), qty in entries:
        if qty > 0:
            uses[code].append((when, posting, qty))
            continue
        back = -qty
        while back and uses[code]:
            last_day, taken_by, last = uses[code].pop()
            if last > back:
                uses[code].append((last_day, taken_by, last - back))
            back -= min(last, back)
    return [
        (code, when, posting, float(qty))
        for code, kept in uses.items()
        for when, posting, qty in kept
    ]


def items_to_forecast(day: date) -> pd.DataFrame:
    """item, supplier, lead_days, review_days, service_level of everything that is bought."""
    shop = Shop.objects.get()
    offers = current_offers(day)
    rows = []
    bought = Item.objects.exclude(kind__in=[Item.Kind.SERVICE, Item.Kind.MADE]).exclude(
        status=Item.Status.DISCONTINUED
    )
    for item in bought:
        offer = offers.get(item.pk)
        rows.append(
            (
                item.code,
                offer.supplier.code if offer else "",
                max(offer.lead_days, 1) if offer else UNKNOWN_LEAD_DAYS,
                shop.review_days,
                float(item.service_level or shop.service_level),
            )
        )
    return _frame(rows, "item", "supplier", "lead_days", "review_days", "service_level")


def receipt_history(day: date) -> pd.DataFrame:
    """supplier, item, quoted_days, actual_days: first delivery of each order line.

    What should be here by now and isn't counts as coming today, the least it can still take;
    without it a supplier who stops delivering would look as quick as ever.
    """
    lines = (
        OrderLine.objects.filter(
            order__state__in=[PurchaseOrder.State.SENT, PurchaseOrder.State.RECEIVED],
            order__sent_on__lte=day,
        )
        .annotate(first=Min("receipts__day", filter=Q(receipts__day__lte=day)))
        .order_by("first", "pk")
        .values_list(
            *("order__supplier__code", "item__code", "lead_days", "order__sent_on"),
            *("first", "closed"),
        )
    )
    rows = []
    for supplier, code, quoted, sent, first, closed in lines:
        taken = ((first or day) - sent).days
        if first or (taken > quoted and not closed):
            rows.append((supplier, code, max(quoted, 1), taken))
    return _frame(rows, "supplier", "item", "quoted_days", "actual_days")


def _frame(rows: Iterable[tuple], *columns: str) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=list(columns))
