"""What is fitted, how worn it is, and how long its kind lasts."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal

from django.db.models import QuerySet

from forecasting.errors import BadInput
from forecasting.life_groups import split_lives
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

    Where lives in the work material now cut are unlike the others, only they are counted.
    Raises: BadInput for an item of which neither a usual life nor a failure is known.
    """
    wearing = [item for item in items if item.wears]
    lives = _present_lives(wearing)
    return {item.pk: _model(item, lives[item.pk]) for item in wearing}


def known_life_models(items: Iterable[Item]) -> dict[int, LifeModel]:
    """The same, leaving out the items of which nothing is known."""
    wearing = [item for item in items if item.wears]
    lives = _present_lives(wearing)
    models = {}
    for item in wearing:
        with suppress(BadInput):
            models[item.pk] = _model(item, lives[item.pk])
    return models


def records_of(lives: Iterable[Fitting]) -> list[LifeRecord]:
    """Lives as a fit takes them: only worn and broken are failures."""
    return [LifeRecord(float(life.life_used), life.end_reason in FAILED) for life in lives]


def is_too_long(life_used: Decimal, item: Item, model: LifeModel | None, longest: Decimal) -> bool:
    """Whether a life is so far beyond the usual one and the longest other that it can't be true."""
    fitted = None if model is None else Decimal(model.weibull.mean)
    usual = item.rated_life or fitted
    return usual is not None and life_used > max(TOO_LONG * usual, longest)


def _present_lives(wearing: Sequence[Item]) -> dict[int, list[Fitting]]:
    """Used lives of the present revision by item id; one set aside and fitted again counts once."""
    lives: dict[int, list[Fitting]] = defaultdict(list)
    revision = {item.pk: item.revision for item in wearing}
    for fitting in Fitting.objects.filter(item__in=revision, continued_by__isnull=True):
        if fitting.revision == revision[fitting.item_id] and fitting.life_used > 0:
            lives[fitting.item_id].append(fitting)
    return lives


def _model(item: Item, lives: Sequence[Fitting]) -> LifeModel:
    now = {life.work_material for life in lives if life.is_fitted}
    material = now.pop() if len(now) == 1 else ""
    own = [life for life in lives if life.work_material == material]
    if not material or not _are_unlike(lives, material):
        return life_model(records_of(lives), prior_of(item))
    model = life_model(records_of(own), prior_of(item))
    return replace(model, words=f"Lives in {material} alone, the others are unlike. {model.words}")


def _are_unlike(lives: Sequence[Fitting], material: str) -> bool:
    by_material: dict[str, list[LifeRecord]] = {"this": [], "other": []}
    for life, record in zip(lives, records_of(lives), strict=True):
        by_material["this" if life.work_material == material else "other"].append(record)
    return split_lives(by_material).differ


def prior_of(item: Item) -> Prior | None:
    """The item's usual life and shape as a prior; None when the shop states none."""
    if item.rated_life is None:
        return None
    shape = float(item.rated_shape) if item.rated_shape else 2.0
    return Prior(float(item.rated_life), shape, source="the usual life entered for the item")
