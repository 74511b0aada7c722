"""The short answer of a batch check, kept until something moves that it rests on."""

import hashlib
from dataclasses import dataclass
from datetime import date

from django.core.cache import cache
from django.db.models import Max, Sum

from inventory.models import (
    Balance,
    Batch,
    BillOfMaterials,
    Fitting,
    OrderLine,
    Posting,
    Request,
    Reservation,
    Shop,
    WearLog,
)
from inventory.queries.batch_check import BatchCheck, check_planned_batch

KEPT_SECONDS = 15 * 60
"""Longest that an answer may miss a change that leaves no trace among what is asked in _state."""


@dataclass(frozen=True)
class CutterDoubt:
    """A wearing item that will not last: chance to last the batch, spares here and wanted."""

    code: str
    is_fitted: bool
    chance: float
    spares: int
    spares_wanted: int


@dataclass(frozen=True)
class BatchAnswer:
    """Whether a planned batch can start, in little room.

    can_make: good knives a line. short: codes of materials that run short. make_first: parts made
    in house that cure, with the number to make. start_on: first day everything could be here.
    """

    can_start: bool
    wanted: tuple[int, ...]
    can_make: tuple[int, ...]
    short: tuple[str, ...]
    cutters: tuple[CutterDoubt, ...]
    make_first: tuple[tuple[str, int], ...]
    start_on: date | None
    ready_on: date | None


def known_answers(batches: list[Batch], day: date) -> dict[int, BatchAnswer]:
    """Answers that are still true, by batch id; nothing is worked out."""
    state = _state(day)
    keys = {_key(batch, state): batch.pk for batch in batches}
    return {keys[key]: answer for key, answer in cache.get_many(keys).items()}


def answer_for(batch: Batch, day: date) -> BatchAnswer:
    """The answer for a planned or reserved batch, worked out when it isn't known."""
    key = _key(batch, _state(day))
    answer = cache.get(key)
    if answer is None:
        answer = short_answer(check_planned_batch(batch, day))
        cache.set(key, answer, KEPT_SECONDS)
    return answer


def short_answer(check: BatchCheck) -> BatchAnswer:
    """What a list says of a check."""
    make_first = tuple((part.item.code, part.made.to_make) for part in check.made if part.ahead)
    return BatchAnswer(
        can_start=not check.short and not make_first,
        wanted=tuple(line.wanted.qty for line in check.lines),
        can_make=tuple(check.can_make),
        short=tuple(material.item.code for material in check.short),
        cutters=tuple(
            CutterDoubt(
                wear.item.code,
                wear.fitted is not None,
                wear.chance,
                wear.spares,
                wear.spares_wanted,
            )
            for wear in check.will_not_last
        ),
        make_first=make_first,
        start_on=check.start_on,
        ready_on=check.ready_on,
    )


def _state(day: date) -> str:
    """Changes whenever stock, holds, orders, bills, cutters or any form's entry change."""
    newest = [
        model.objects.aggregate(newest=Max("pk"))["newest"]
        for model in (Posting, WearLog, Fitting, BillOfMaterials, Batch)
    ]
    held = Reservation.objects.filter(is_open=True).aggregate(Max("pk"), Sum("qty"))
    ordered = OrderLine.objects.filter(closed=False).aggregate(
        Max("pk"), Sum("qty"), Sum("received_qty")
    )
    entered = Request.objects.aggregate(newest=Max("at"))["newest"]
    stock = Balance.objects.aggregate(Max("pk"), Sum("qty"))
    shop = Shop.objects.values_list("start_confidence", "wear_confidence").first()
    seen = repr((day, newest, held, ordered, entered, stock, shop))
    return hashlib.sha256(seen.encode()).hexdigest()


def _key(batch: Batch, state: str) -> str:
    return f"batch-answer-{batch.pk}-{batch.state}-{state}"
