"""Whether what a forecast rests on has changed since the last one; cheap enough for every page."""

import hashlib
from collections import defaultdict

from inventory.models import (
    Batch,
    BatchLine,
    BillOfMaterials,
    ExceptionalUse,
    ForecastRun,
    Item,
    ItemForecast,
)


def plan_digest() -> str:
    """A mark of the batches still to start, their choices too, of the bills in force, and of the
    use that is not expected again."""
    plan = BatchLine.objects.filter(
        batch__state__in=[Batch.State.PLANNED, Batch.State.RESERVED]
    ).order_by("pk", "options")
    bills = BillOfMaterials.objects.filter(status=BillOfMaterials.Status.ACTIVE).order_by("pk")
    content = (
        list(plan.values_list("bill", "options", "batch__start_on", "start_qty")),
        list(bills.values_list("pk", flat=True)),
        list(ExceptionalUse.objects.values_list("posting", flat=True)),
    )
    return hashlib.sha256(repr(content).encode()).hexdigest()


def latest_run() -> ForecastRun | None:
    """The forecast that counts: the newest whole one."""
    return ForecastRun.objects.filter(state=ForecastRun.State.DONE).first()


def newest_forecast(item: Item) -> ItemForecast | None:
    """The item in the forecast that counts."""
    found = item.forecasts.select_related("run", "item").filter(run=latest_run())
    return found.first()


def is_anything_bought() -> bool:
    """Whether there is an item to forecast."""
    made = [Item.Kind.SERVICE, Item.Kind.MADE]
    items = Item.objects.exclude(kind__in=made).exclude(status=Item.Status.DISCONTINUED)
    return items.exists()


def plan_in_words() -> dict[str, dict[str, int]]:
    """Batches still to start: number -> product code -> knives to start."""
    lines = BatchLine.objects.filter(batch__state__in=[Batch.State.PLANNED, Batch.State.RESERVED])
    plan: dict[str, dict[str, int]] = defaultdict(dict)
    rows = lines.order_by("pk").values_list("batch__number", "product__code", "start_qty")
    for number, product, knives in rows:
        plan[number][product] = plan[number].get(product, 0) + knives
    return dict(plan)


def bills_in_force() -> dict[str, int]:
    """Product or made part -> revision of its bill."""
    bills = BillOfMaterials.objects.filter(status=BillOfMaterials.Status.ACTIVE)
    rows = bills.values_list("product__code", "made_item__code", "revision")
    return {product or part: revision for product, part, revision in rows}


def is_stale(run: ForecastRun) -> bool:
    """Whether the plan, a bill or the use that is counted has changed since that run."""
    return run.plan_digest != plan_digest()
