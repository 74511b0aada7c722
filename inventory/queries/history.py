"""The shop's records as the tables a forecast reads; pandas lives here, so pages don't import it."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

import pandas as pd
from django.db.models import Min

from inventory.models import (
    Batch,
    BatchLine,
    Item,
    Movement,
    OrderLine,
    PastBuild,
    Posting,
    PurchaseOrder,
    Shop,
)
from inventory.queries.arrivals import current_offers
from inventory.queries.cutters import fitted_now
from inventory.queries.life_book import known_life_models
from inventory.queries.planned_use import PlannedUse
from inventory.queries.usage import ItemUsage

UNKNOWN_LEAD_DAYS = 14
"""For an item that nobody offers yet: two weeks, common practice, no source."""

OWN_USE = ("", "batch", "made", "fitted", "scrap")


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


def build_plan(day: date) -> pd.DataFrame:
    """product, day, qty: batches still to start; one whose day has passed is expected today."""
    lines = BatchLine.objects.filter(batch__state__in=[Batch.State.PLANNED, Batch.State.RESERVED])
    rows = [
        (code, max(start_on, day), qty)
        for code, start_on, qty in lines.order_by("batch__start_on", "pk").values_list(
            "product__code", "batch__start_on", "start_qty"
        )
    ]
    return _frame(rows, "product", "day", "qty")


def usage_table(usage: Iterable[ItemUsage], items: set[str]) -> pd.DataFrame:
    """product, item, per_knife, per_batch of the items to be forecast."""
    rows = [
        (row.product, row.item.code, row.per_knife, row.per_batch)
        for row in usage
        if row.item.code in items
    ]
    return _frame(rows, "product", "item", "per_knife", "per_batch")


def planned_use_table(rows: Iterable[PlannedUse], items: set[str]) -> pd.DataFrame:
    """item, day, qty of the items to be forecast."""
    kept = [(row.item.code, row.day, row.qty) for row in rows if row.item.code in items]
    return _frame(kept, "item", "day", "qty")


def direct_use(day: date, items: set[str]) -> pd.DataFrame:
    """item, day, qty: taken outside batches (repairs, one-offs, samples).

    Reversed entries are left out; what came back is taken off the newest use before it.
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
    rows = _less_what_came_back(sorted(taken.items()))
    return _frame(rows, "item", "day", "qty")


def _less_what_came_back(
    entries: Iterable[tuple[tuple[str, date, int], Decimal]],
) -> list[tuple[str, date, float]]:
    uses: dict[str, list[tuple[date, Decimal]]] = defaultdict(list)
    for (code, when, _), qty in entries:
        if qty > 0:
            uses[code].append((when, qty))
            continue
        back = -qty
        while back and uses[code]:
            last_day, last = uses[code].pop()
            if last > back:
                uses[code].append((last_day, last - back))
            back -= min(last, back)
    return [(code, when, float(qty)) for code, kept in uses.items() for when, qty in kept]


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


def wear_lives(items: set[str]) -> pd.DataFrame:
    """item, mean_life, shape, scale, used, fitted: likely lives of what wears, and its age now.

    Of several in machines the most worn goes first.
    """
    wearing = list(Item.objects.filter(code__in=items).exclude(life_unit=""))
    models = known_life_models(wearing)
    used: dict[int, Decimal] = {}
    for item, life in fitted_now().filter(item__in=models).values_list("item", "life_used"):
        used[item] = max(used.get(item, life), life)
    rows = []
    for item in wearing:
        if item.pk in models:
            model, age = models[item.pk], float(used.get(item.pk, 0))
            rows += [
                (item.code, model.weibull.mean, shape, scale, age, item.pk in used)
                for shape, scale in zip(*model.around.few_pairs(), strict=True)
            ]
    return _frame(rows, "item", "mean_life", "shape", "scale", "used", "fitted")


def receipt_history(day: date) -> pd.DataFrame:
    """supplier, item, quoted_days, actual_days: first delivery of each order line."""
    lines = (
        OrderLine.objects.filter(
            order__state__in=[PurchaseOrder.State.SENT, PurchaseOrder.State.RECEIVED],
            receipts__day__lte=day,
        )
        .annotate(first=Min("receipts__day"))
        .order_by("first", "pk")
        .values_list("order__supplier__code", "item__code", "lead_days", "order__sent_on", "first")
    )
    rows = [
        (supplier, code, max(quoted, 1), (first - sent).days)
        for supplier, code, quoted, sent, first in lines
    ]
    return _frame(rows, "supplier", "item", "quoted_days", "actual_days")


def _frame(rows: Iterable[tuple], *columns: str) -> pd.DataFrame:
    return pd.DataFrame(list(rows), columns=list(columns))
