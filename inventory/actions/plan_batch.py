"""Batches planned, and batches given up."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils import timezone

from inventory.actions.batch_state import STATE, close_reservations, refuse_unless
from inventory.actions.numbering import BATCH, next_number
from inventory.actions.posting import FIRST_DAY
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import Batch, BatchLine, Shop, User
from inventory.queries.batch_needs import Wanted, start_builds

FARTHEST_PLAN = timedelta(days=36_500)


@action
def plan_batch(
    *,
    lines: Sequence[Wanted],
    start_on: date,
    note: str = "",
    by: User | None = None,
) -> Batch:
    """Plan a batch of one or more products on their active bills.

    How many to start follows from the step yields unless a line says it. Refuses an empty batch and
    a start that no plan reaches.
    """
    if not lines:
        raise Refused("A batch needs at least one product.")
    if not FIRST_DAY <= start_on <= timezone.localdate() + FARTHEST_PLAN:
        raise Refused(f"A start on {show_day(start_on)} can't be planned. Check the year.")
    started = start_builds(lines, float(Shop.objects.get().start_confidence))
    batch = Batch.objects.create(
        number=next_number(BATCH, Batch, "number"), start_on=start_on, note=note
    )
    for line in started:
        record = BatchLine.objects.create(
            batch=batch,
            product=line.wanted.product,
            bill=line.record,
            wanted=line.wanted.qty,
            start_qty=line.build.start,
        )
        record.options.set(line.wanted.options)
    return batch


@action
def cancel_batch(*, batch: Batch, day: date, note: str, by: User | None = None) -> Batch:
    """Cancel a batch and give back what is held; what was cut or used stays used."""
    refuse_unless(batch, "cancelled", STATE.PLANNED, STATE.RESERVED, STATE.IN_WORK)
    if batch.state == STATE.IN_WORK and not note:
        raise Refused(f"Batch {batch.number} is in work. Say in a note what becomes of the blanks.")
    close_reservations(batch)
    batch.state, batch.note = STATE.CANCELLED, note or batch.note
    batch.save(update_fields=["state", "note"])
    return batch
