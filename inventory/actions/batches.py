"""Batches: planned, reserved, started, counted stage by stage, finished or cancelled."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.utils import timezone

from forecasting.explosion import Bill, Build, Made, explode
from inventory.actions.cut_material import cut_by_plan
from inventory.actions.issue import take_first_expired
from inventory.actions.numbering import BATCH, next_number
from inventory.actions.posting import FIRST_DAY, Entry, lock_items, post, refuse_impossible_day
from inventory.actions.request import action
from inventory.actions.wear import log_together
from inventory.cutting import AimName
from inventory.days import show_day
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import (
    Batch,
    BatchLine,
    CutPlan,
    Item,
    Movement,
    Operation,
    Reservation,
    Shop,
    StageCount,
    User,
)
from inventory.queries.availability import free_by_item
from inventory.queries.batch_needs import (
    Wanted,
    batch_builds,
    items_of,
    start_builds,
)
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
from inventory.queries.cut_plans import as_stored, cuts_to_make
from inventory.queries.material_check import MaterialCheck, check_materials
from inventory.queries.material_plan import MaterialPlan
from inventory.queries.shelf import Shelf, look_at_shelf
from inventory.units import show_quantity

STATE = Batch.State
FARTHEST_PLAN = timedelta(days=36_500)


@dataclass(frozen=True)
class StageTally:
    """Scrapped at one operation, and why."""

    scrapped: int
    cause: str = ""


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
def reserve_batch(
    *, batch: Batch, day: date, aim: AimName = "remnant", by: User | None = None
) -> Batch:
    """Hold everything the batch takes: pieces as the cutting plan names them, the rest by lot.

    The plan is kept: the bench sheet prints it and the start cuts by it. aim: how far it is worked
    out, as in inventory.queries.material_plan.
    Refuses when anything is short, naming it all; nothing is held then.
    """
    _refuse_unless(batch, "reserved", STATE.PLANNED)
    lines, bills = batch_builds(batch), made_bills()
    items = items_of(lines, bills)
    lock_items(items)
    shelf = look_at_shelf(day, batch, items)
    exploded = shelf.explode(line.build for line in lines)
    materials = check_materials(shelf, exploded, aim)
    if short := [check for check in materials if check.is_short]:
        raise NotEnough(_shortages(batch, short))
    _refuse_unmade(batch, exploded.made)
    rows: list[Reservation] = []
    plans: list[CutPlan] = []
    for check in materials:
        if check.material is not None:
            rows += _hold_pieces(batch, check.item, check.material)
            plans.append(CutPlan(batch=batch, item=check.item, plan=as_stored(check.material)))
        else:
            rows += _hold(batch, check.item, check.need, shelf)
    for part in exploded.made:
        if part.from_stock:
            rows += _hold(batch, shelf.items[part.item], part.from_stock, shelf)
    Reservation.objects.bulk_create(rows)
    CutPlan.objects.bulk_create(plans)
    batch.state = STATE.RESERVED
    batch.save(update_fields=["state"])
    return batch


@action
def release_batch(*, batch: Batch, by: User | None = None) -> Batch:
    """Give back everything held; the batch is planned again."""
    _refuse_unless(batch, "released", STATE.RESERVED)
    _close_reservations(batch)
    batch.cut_plans.all().delete()
    batch.state = STATE.PLANNED
    batch.save(update_fields=["state"])
    return batch


@action
def start_batch(*, batch: Batch, day: date, by: User | None = None) -> Batch:
    """Cut the pieces held for the batch as planned, and take its parts made in house.

    The rest stays held and is used up when the batch is finished, by what really got that far.
    Refuses a part that has to be made ahead and isn't there.
    """
    _refuse_unless(batch, "started", STATE.RESERVED)
    refuse_impossible_day(day)
    lines, bills = batch_builds(batch), made_bills()
    items = items_of(lines, bills)
    lock_items(items)
    made_held = _made_parts_held(batch)
    exploded = explode(
        [line.build for line in lines],
        bills,
        {item.code: qty for item, qty in made_held},
    )
    _refuse_unmade(batch, exploded.made)
    materials = cuts_to_make(batch, exploded.needs, day)
    batch.reservations.filter(is_open=True, piece__isnull=False).update(is_open=False)
    for material in materials:
        cut_by_plan(material, day=day, batch=batch, by=by)
    _use(batch, made_held, day, by)
    batch.state, batch.started_on = STATE.IN_WORK, day
    batch.save(update_fields=["state", "started_on"])
    return batch


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
    _refuse_unless(line.batch, "counted", STATE.IN_WORK)
    _refuse_outside_work(line.batch, day)
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
    bill doesn't know. wear: fitting id -> life used; None: by the bill less what was logged on the batch before, on what
    is fitted now.
    Parts made in house that were taken at the start for knives that never got to them go back.
    """
    _refuse_unless(batch, "finished", STATE.IN_WORK)
    _refuse_outside_work(batch, day)
    lines, bills = batch_builds(batch), made_bills()
    lock_items([*items_of(lines, bills), *(used or {})])
    for line in batch.lines.select_related("bill"):
        _count_the_rest(line, counts or {}, day)
    builds = built_so_far(batch, lines)
    _close_reservations(batch)
    _settle_made_parts(batch, builds, bills, day, by)
    made_used = made_parts_used(batch)
    proposed = proposed_use(builds, made_used, bills)
    _use(batch, _amounts(batch, proposed, used or {}), day, by)
    if wear is None:
        rows = proposed_wear(builds, made_used, bills, wear_logged([batch])[batch.pk])
        wear = fitted_by_then(rows, day)
    amounts = {fitting: life for fitting, life in wear.items() if life}
    log_together(amounts=amounts, day=day, batch=batch)
    batch.state, batch.finished_on = STATE.FINISHED, day
    batch.save(update_fields=["state", "finished_on"])
    return batch


@action
def cancel_batch(*, batch: Batch, day: date, note: str, by: User | None = None) -> Batch:
    """Cancel a batch and give back what is held; what was cut or used stays used."""
    _refuse_unless(batch, "cancelled", STATE.PLANNED, STATE.RESERVED, STATE.IN_WORK)
    if batch.state == STATE.IN_WORK and not note:
        raise Refused(f"Batch {batch.number} is in work. Say in a note what becomes of the blanks.")
    _close_reservations(batch)
    batch.state, batch.note = STATE.CANCELLED, note or batch.note
    batch.save(update_fields=["state", "note"])
    return batch


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
            _use(batch, [(item, due)], day, by)
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


def _refuse_outside_work(batch: Batch, day: date) -> None:
    refuse_impossible_day(day)
    if day < batch.started_on:
        raise Refused(
            f"Batch {batch.number} was started on {show_day(batch.started_on)}, after {show_day(day)}."
        )


def _refuse_unmade(batch: Batch, made: Iterable[Made]) -> None:
    for part in made:
        if part.to_make and part.wait_days:
            raise NotEnough(
                f"Batch {batch.number}: make {part.to_make} {part.item} first; "
                f"they are ready {part.wait_days} day(s) later."
            )


def _made_parts_held(batch: Batch) -> list[tuple[Item, Decimal]]:
    held: dict[Item, Decimal] = defaultdict(Decimal)
    rows = batch.reservations.filter(is_open=True, item__kind=Item.Kind.MADE)
    for reservation in rows.select_related("item"):
        held[reservation.item] += reservation.qty
    return list(held.items())


def _hold_pieces(batch: Batch, item: Item, material: MaterialPlan) -> list[Reservation]:
    return [
        Reservation(
            batch=batch,
            item=item,
            lot=material.pieces[planned.piece].lot,
            piece=material.pieces[planned.piece],
            qty=material.pieces[planned.piece].quantity,
        )
        for planned in material.plan.rack_pieces
    ]


def _hold(batch: Batch, item: Item, qty: Decimal, shelf: Shelf) -> list[Reservation]:
    by_lot: dict[int, Decimal] = defaultdict(Decimal)
    left = qty
    for balance, free in shelf.free[item.pk]:
        taken = min(free, left)
        if taken > 0:
            by_lot[balance.lot_id] += taken
            left -= taken
    if left:
        raise NotEnough(
            f"{item.code}: {show_quantity(left, item.stock_unit)} more is needed for batch "
            f"{batch.number} than is free. Receive more or release another batch."
        )
    return [
        Reservation(batch=batch, item=item, lot_id=lot, qty=taken) for lot, taken in by_lot.items()
    ]


def _use(batch: Batch, amounts: Iterable[tuple[Item, Decimal]], day: date, by: User | None) -> None:
    """Take quantities for the batch in one posting: what it holds, then what is free."""
    wanted = [(item, qty) for item, qty in amounts if qty]
    if not wanted:
        return
    free = free_by_item(day, [item.pk for item, _ in wanted], batch=batch)
    entries = [
        entry
        for item, qty in wanted
        for entry in take_first_expired(item, qty, day, free_stock=free[item.pk])
    ]
    _take_from_reservations(batch, entries)
    post("issue", entries, day=day, by=by, reason="batch", batch=batch)


def _take_from_reservations(batch: Batch, entries: Iterable[Entry]) -> None:
    held = list(batch.reservations.filter(is_open=True, piece__isnull=True))
    for entry in entries:
        left = -entry.qty
        for reservation in held:
            if reservation.lot_id == entry.lot.pk and reservation.is_open and left:
                taken = min(reservation.qty, left)
                left -= taken
                if taken == reservation.qty:
                    reservation.is_open = False
                else:
                    reservation.qty -= taken
    Reservation.objects.bulk_update(held, ["qty", "is_open"])


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


def _close_reservations(batch: Batch) -> None:
    batch.reservations.filter(is_open=True).update(is_open=False)


def _shortages(batch: Batch, short: Iterable[MaterialCheck]) -> str:
    lines = [
        f"{check.item.code} {check.pieces_short} full piece(s)"
        if check.pieces_short
        else f"{check.item.code} {show_quantity(check.short, check.item.stock_unit)}"
        for check in short
    ]
    return (
        f"Batch {batch.number} can't be reserved; short of {', '.join(lines)}. "
        "Order or receive these, or plan fewer knives."
    )


def _refuse_unless(batch: Batch, verb: str, *states: str) -> None:
    current = Batch.objects.select_for_update().get(pk=batch.pk)
    batch.state, batch.started_on = current.state, current.started_on
    if current.state not in states:
        wanted = " or ".join(STATE(state).label for state in states)
        raise WrongState(
            f"Batch {batch.number} is {current.get_state_display()}; only one that is {wanted} "
            f"can be {verb}."
        )
