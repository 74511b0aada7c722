"""What is fitted, how worn it is, and how long its kind lasts."""

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import QuerySet

from forecasting.tool_life import LifeModel, LifeRecord, Prior
from inventory.models import Fitting, Item

FAILED = (Fitting.EndReason.WORN, Fitting.EndReason.BROKEN)
TOO_LONG = 3
"""Times the usual life beyond which a change was rather not logged: common practice, no source."""


def fitted_now() -> QuerySet[Fitting]:
    """Everything in a machine, with item and machine fetched along."""
    return Fitting.objects.filter(removed_on__isnull=True).select_related("item", "machine")


def fitted_by_item(items: Iterable[Item]) -> dict[int, list[Fitting]]:
    """The same of these items by item id, the most worn first."""
    found: dict[int, list[Fitting]] = defaultdict(list)
    for fitting in fitted_now().filter(item__in=list(items)).order_by("-life_used", "pk"):
        found[fitting.item_id].append(fitting)
    return found


def records_of(lives: Iterable[Fitting]) -> list[LifeRecord]:
    """Lives as a fit takes them: only worn and broken are failures."""
    return [LifeRecord(float(life.life_used), life.end_reason in FAILED) for life in lives]


def is_too_long(life_used: Decimal, item: Item, model: LifeModel | None, longest: Decimal) -> bool:
    """Whether a life is so far beyond the usual one and the longest other that it can't be true."""
    fitted = None if model is None else Decimal(model.weibull.mean)
    usual = item.rated_life or fitted
    return usual is not None and life_used > max(TOO_LONG * usual, longest)


def prior_of(item: Item) -> Prior | None:
    """The item's usual life and shape as a prior; None when the shop states none."""
    if item.rated_life is None:
        return None
    shape = float(item.rated_shape) if item.rated_shape else 2.0
    return Prior(float(item.rated_life), shape, source="the usual life entered for the item")
