"""What is fitted, how worn it is, and how long its kind lasts."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from decimal import Decimal

from django.db.models import QuerySet

from forecasting.errors import BadInput
from forecasting.tool_life import LifeModel, LifeRecord, Prior, life_model
from inventory.models import Fitting, Item

FAILED = (Fitting.EndReason.WORN, Fitting.EndReason.BROKEN)
TOO_LONG = 3
"""Times the usual life beyond which a change was rather not logged: common practice, no source."""


def fitted_now() -> QuerySet[Fitting]:
    """Everything in a machine, with item and machine fetched along."""
    return Fitting.objects.filter(removed_on__isnull=True).select_related("item", "machine")


def life_models(items: Iterable[Item]) -> dict[int, LifeModel]:
    """Life model by item id, from the lives of the item's present revision and its usual life.

    Raises: BadInput for an item of which neither a usual life nor a failure is known.
    """
    wearing = [item for item in items if item.wears]
    lives = _records(wearing)
    return {item.pk: life_model(lives[item.pk], prior_of(item)) for item in wearing}


def known_life_models(items: Iterable[Item]) -> dict[int, LifeModel]:
    """The same, leaving out the items of which nothing is known."""
    wearing = [item for item in items if item.wears]
    lives = _records(wearing)
    models = {}
    for item in wearing:
        with suppress(BadInput):
            models[item.pk] = life_model(lives[item.pk], prior_of(item))
    return models


def is_too_long(life_used: Decimal, item: Item, model: LifeModel | None, longest: Decimal) -> bool:
    """Whether a life is so far beyond the usual one and the longest other that it can't be true."""
    fitted = None if model is None else Decimal(model.weibull.mean)
    usual = item.rated_life or fitted
    return usual is not None and life_used > max(TOO_LONG * usual, longest)


def _records(wearing: Sequence[Item]) -> dict[int, list[LifeRecord]]:
    lives: dict[int, list[LifeRecord]] = defaultdict(list)
    revision = {item.pk: item.revision for item in wearing}
    for fitting in _ends_of_lives([item.pk for item in wearing]):
        if fitting.revision == revision[fitting.item_id] and fitting.life_used > 0:
            failed = fitting.end_reason in FAILED
            lives[fitting.item_id].append(LifeRecord(float(fitting.life_used), failed))
    return lives


def prior_of(item: Item) -> Prior | None:
    """The item's usual life and shape as a prior; None when the shop states none."""
    if item.rated_life is None:
        return None
    shape = float(item.rated_shape) if item.rated_shape else 2.0
    return Prior(float(item.rated_life), shape, source="the usual life entered for the item")


def _ends_of_lives(item_ids: list[int]) -> QuerySet[Fitting]:
    """Last fitting of every individual: one that was set aside and fitted again counts once."""
    return Fitting.objects.filter(item__in=item_ids, continued_by__isnull=True)
