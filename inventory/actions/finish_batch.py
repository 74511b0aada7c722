"""Stages counted, and a batch finished: what it used, what it wore, what goes back."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from forecasting.explosion import Bill, Build
from inventory.actions.batch_state import (
    STATE,
    close_reservations,
    refuse_outside_work,
    refuse_unless,
    use_for_batch,
)
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.actions.wear import log_together
from inventory.errors import Refused, WrongState
from inventory.models import Batch, BatchLine, Fitting, Item, Movement, Operation, StageCount, User
from inventory.queries.batch_needs import batch_builds, items_of
from inventory.queries.batch_use import (
    built_so_far,
    fitted_by_then,
    made_parts_due,
    made_parts_used,
    proposed_use,
    proposed_wear,
    wear_logged,
)
from inventory.queries.bills import made_bills


@dataclass(frozen=True)
class StageTally:
    """Scrapped at one operation, and why."""

    scrapped: int
    cause: str = ""


@action
def count_stage(
    *,
    line: BatchLine,
    operation: Operation,
    scrapped: int,
    day: date,
    cause: str = "",
    by: User | None = None,
) -> StageCount:
    """Note how many knives an operation scrapped; stages are counted in order, each once."""
    refuse_unless(line.batch, "counted", STATE.IN_WORK)
    refuse_outside_work(line.batch, day)
    operations = list(line.bill.operations.all())
    counted = list(line.stages.select_related("operation"))
    if len(counted) == len(operations) or operations[len(counted)] != operation:
        ahead = operations[len(counted)] if len(counted) < len(operations) else None
        raise WrongState(
            f"Batch {line.batch.number}: "
            + (f"count {ahead.name} first." if ahead else "every stage has been counted.")
        )
    arrived = counted[-1].good if counted else line.start_qty
    if not 0 <= scrapped <= arrived:
        raise Refused(
            f"Batch {line.batch.number}: {arrived} knives reached {operation.name}, "
            f"so {scrapped} can't be scrapped there."
        )
    return StageCount.objects.create(
        line=line,
        operation=operation,
        good=arrived - scrapped,
        scrapped=scrapped,
        cause=cause,
        day=day,
    )


@action
def finish_batch(
    *,
    batch: Batch,
    day: date,
    counts: Mapping[tuple[int, int], StageTally] | None = None,
    used: Mapping[int, Decimal] | None = None,
    wear: Mapping[int, Decimal] | None = None,
    by: User | None = None,
) -> Batch:
    """Count the stages left, use up the materials by what really reached each step, log the wear.

    counts: scrapped by (batch line id, operation id); a stage not named scrapped none.
    used: item id -> quantity, for items that took another amount than the bill says, or that the
    bill doesn't know. wear: fitting id -> life used, one taken out during the batch too; None: by the bill less what was logged on the batch before, on what
    is fitted now.
    Parts made in house that were taken at the start for knives that never got to them go back.
    """
    refuse_unless(batch, "finished", STATE.IN_WORK)
    refuse_outside_work(batch, day)
    lines, bills = batch_builds(batch), made_bills()
    lock_items([*items_of(lines, bills), *(used or {})])
    for line in batch.lines.select_related("bill"):
        _count_the_rest(line, counts or {}, day)
    builds = built_so_far(batch, lines)
    close_reservations(batch)
    _settle_made_parts(batch, builds, bills, day, by)
    made_used = made_parts_used(batch)
    proposed = proposed_use(builds, made_used, bills)
    use_for_batch(batch, _amounts(batch, proposed, used or {}), day, by)
    if wear is None:
        rows = proposed_wear(builds, made_used, bills, wear_logged([batch])[batch.pk])
        wear = fitted_by_then(rows, day)
    amounts = {fitting: life for fitting, life in wear.items() if life}
    _log_wear(batch, amounts, day)
    batch.state, batch.finished_on = STATE.FINISHED, day
    batch.save(update_fields=["state", "finished_on"])
    return batch


def _log_wear(batch: Batch, amounts: Mapping[int, Decimal], day: date) -> None:
    """Each on the day of the finish; one taken out before it, on the day it came out."""
    gone = Fitting.objects.filter(pk__in=amounts, removed_on__lt=day)
    for one in gone.order_by("pk"):
        log_together(
            amounts={one.pk: amounts[one.pk]}, day=one.removed_on, batch=batch, afterwards=True
        )
    left = {pk: life for pk, life in amounts.items() if pk not in {one.pk for one in gone}}
    log_together(amounts=left, day=day, batch=batch, afterwards=True)


def _amounts(
    batch: Batch, proposed: Iterable[tuple[Item, Decimal]], used: Mapping[int, Decimal]
) -> list[tuple[Item, Decimal]]:
    """What to take of each item: as the person says, else as proposed; nothing left out."""
    amounts = {item.pk: (item, qty) for item, qty in proposed}
    for item in Item.objects.filter(pk__in=used):
        if used[item.pk] < 0:
            raise Refused(f"{item.code}: {used[item.pk]} used? Enter 0 or more.")
        if item.in_pieces or item.kind == Item.Kind.MADE:
            raise Refused(
                f"{item.code} was taken when batch {batch.number} started. Cut, issue or return "
                "it on its own page."
            )
        amounts[item.pk] = item, used[item.pk]
    return [(item, qty) for item, qty in amounts.values() if qty]


def _settle_made_parts(
    batch: Batch, builds: list[Build], bills: Mapping[str, Bill], day: date, by: User | None
) -> None:
    """Take or give back made parts where more or fewer knives got to them than were planned."""
    for item, due in made_parts_due(builds, made_parts_used(batch), bills):
        if due > 0:
            use_for_batch(batch, [(item, due)], day, by)
            continue
        entries = _back_to_lots(batch, item, -due)
        post("return", entries, day=day, by=by, reason="left over", batch=batch)


def _back_to_lots(batch: Batch, item: Item, qty: Decimal) -> list[Entry]:
    entries = []
    taken = Movement.objects.filter(posting__batch=batch, item=item, qty__lt=0)
    for movement in taken.select_related("lot__item", "place"):
        back = min(-movement.qty, qty)
        if back:
            entries.append(Entry(movement.lot, movement.place, back))
            qty -= back
    return entries


def _count_the_rest(
    line: BatchLine, counts: Mapping[tuple[int, int], StageTally], day: date
) -> None:
    counted = list(line.stages.all())
    good = counted[-1].good if counted else line.start_qty
    rest = []
    for operation in list(line.bill.operations.all())[len(counted) :]:
        tally = counts.get((line.pk, operation.pk), StageTally(0))
        if not 0 <= tally.scrapped <= good:
            raise Refused(
                f"Batch {line.batch.number}: {good} knives reached {operation.name}, "
                f"so {tally.scrapped} can't be scrapped there."
            )
        good -= tally.scrapped
        rest.append(
            StageCount(
                line=line,
                operation=operation,
                good=good,
                scrapped=tally.scrapped,
                cause=tally.cause,
                day=day,
            )
        )
    StageCount.objects.bulk_create(rest)
    line.good, line.scrapped = good, line.start_qty - good
    line.save(update_fields=["good", "scrapped"])
