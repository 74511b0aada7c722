"""Cutters and other wearing items: fitted, used, measured, changed."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from inventory.actions.issue import take_first_expired
from inventory.actions.numbering import FITTED, next_number
from inventory.actions.posting import lock_items, post, refuse_impossible_day
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused, WrongState
from inventory.models import (
    Batch,
    Fitting,
    Item,
    Lot,
    Machine,
    Regrind,
    User,
    WearLog,
    WearReading,
)
from inventory.queries.wear_places import usual_work
from inventory.units import show_number

ENDS = Fitting.EndReason
INTO_A_MACHINE = "fitted"
MOST_REGRINDS = 99
REGROUND = re.compile(r"-R\d+$")


@action
def fit(
    *,
    item: Item,
    machine: Machine,
    pocket: str,
    day: date,
    lot: Lot | None = None,
    label: str = "",
    regrinds: int = 0,
    diameter_um: int | None = None,
    work_material: str = "",
    cutting_data: str = "",
    continues: Fitting | None = None,
    regrind: Regrind | None = None,
    note: str = "",
    by: User | None = None,
) -> Fitting:
    """Fit one of an item in a pocket; it leaves stock and its life begins.

    `continues`: the same one was fitted before and removed early; nothing leaves stock and its life
    goes on. `regrind`: the same one is back from regrinding; nothing leaves stock and a new life of
    it begins. Work that isn't said is what the bills say of that pocket. Refuses an occupied pocket,
    an item that doesn't wear, and more regrinds than the item takes.
    """
    refuse_impossible_day(day)
    pocket = _known_spelling(machine, pocket)
    _refuse_bad_fit(item, machine, pocket, regrinds)
    if label and Fitting.objects.filter(label=label).exists():
        raise Refused(f"The label {label} is taken. Leave it empty to get the next number.")
    if continues is not None:
        known = _going_on(item, continues, day)
    elif regrind is not None:
        known = _reground(item, regrind, day)
    else:
        known = _from_stock(item, lot, day, f"{machine} {pocket}", by)
    own_label = known.pop("label", "")
    said = {
        "regrinds": regrinds,
        "diameter_um": diameter_um,
        "work_material": work_material,
        "cutting_data": cutting_data,
    }
    if continues is None and not (work_material or cutting_data):
        said["work_material"], said["cutting_data"] = usual_work(item, machine, pocket)
    new = Fitting.objects.create(
        item=item,
        label=label or own_label or next_number(FITTED, Fitting, "label"),
        machine=machine,
        pocket=pocket,
        fitted_on=day,
        note=note,
        **{**known, **{name: value for name, value in said.items() if value}},
    )
    if regrind is not None:
        regrind.fitted_as = new
        regrind.save(update_fields=["fitted_as"])
    return new


@action
def log_wear(
    *,
    fitting: Fitting,
    amount: Decimal,
    day: date,
    batch: Batch | None = None,
    operation: str = "",
    by: User | None = None,
) -> WearLog:
    """Add life used, in the item's life unit.

    Refuses nothing, one that isn't fitted then, and a batch that isn't in work.
    """
    if batch is not None and batch.state != Batch.State.IN_WORK:
        raise WrongState(
            f"Batch {batch.number} is {batch.get_state_display()}, not in work. Log it without the "
            "batch, or on another one."
        )
    (log,) = log_together(amounts={fitting.pk: amount}, day=day, batch=batch, operation=operation)
    return log


def log_together(
    *,
    amounts: Mapping[int, Decimal],
    day: date,
    batch: Batch | None = None,
    operation: str = "",
    afterwards: bool = False,
) -> list[WearLog]:
    """The same for several fittings (id -> life used) inside another action.

    afterwards: also for one that was taken out since, if it was in the machine on that day.
    """
    refuse = _refuse_not_in_then if afterwards else _refuse_outside_life
    fittings = list(
        Fitting.objects.select_for_update(of=("self",))
        .select_related("item", "machine")
        .filter(pk__in=amounts)
        .order_by("pk")
    )
    for fitting in fittings:
        if amounts[fitting.pk] <= 0:
            raise Refused(
                f"{fitting.label}: {show_number(amounts[fitting.pk])} used? "
                "Enter an amount above zero."
            )
        refuse(fitting, day)
        fitting.life_used += amounts[fitting.pk]
    Fitting.objects.bulk_update(fittings, ["life_used"])
    return WearLog.objects.bulk_create(
        WearLog(
            fitting=fitting,
            amount=amounts[fitting.pk],
            day=day,
            batch=batch,
            operation=operation,
        )
        for fitting in fittings
    )


@action
def reverse_wear(*, log: WearLog, day: date, by: User | None = None) -> WearLog:
    """Take back a wrong entry by its negative; the wrong one stays readable.

    Wear that was read after the wrong entry is moved back by as much life.
    """
    refuse_impossible_day(day)
    fitting = _locked(log.fitting)
    if log.amount < 0 or WearLog.objects.filter(reverses=log).exists():
        raise WrongState("That entry was taken back before. Nothing was changed.")
    if hasattr(fitting, "continued_by"):
        raise WrongState(
            f"{fitting.label} goes on as {fitting.continued_by.label}; correct it there."
        )
    back = WearLog.objects.create(
        fitting=fitting,
        amount=-log.amount,
        day=day,
        batch=log.batch,
        operation=log.operation,
        reverses=log,
    )
    fitting.life_used -= log.amount
    fitting.save(update_fields=["life_used"])
    _move_readings_back(fitting, log)
    return back


@action
def move_wear(*, log: WearLog, to: Fitting, day: date, by: User | None = None) -> WearLog:
    """Log an entry made on the wrong cutter where it belongs, on the day it was made for.

    The wrong one is taken back. It may be one that was taken out since. Refuses one that counts its
    life otherwise or wasn't in the machine then.
    """
    unit = log.fitting.item.life_unit
    if to.item.life_unit != unit or to.pk == log.fitting_id:
        raise Refused(f"{to.label} doesn't take an entry in {unit} of {log.fitting.label}.")
    reverse_wear(log=log, day=day, by=by)
    (moved,) = log_together(
        amounts={to.pk: log.amount},
        day=log.day,
        batch=log.batch,
        operation=log.operation,
        afterwards=True,
    )
    return moved


@action
def read_wear(
    *,
    fitting: Fitting,
    day: date,
    vb_um: int | None = None,
    level: str = "",
    by: User | None = None,
) -> WearReading:
    """Note wear at the life used so far: the wear land VB in µm, or as new, half worn or worn.

    A falling reading is kept too. Refuses both at once, or neither.
    """
    fitting = _locked(fitting)
    _refuse_outside_life(fitting, day)
    if (vb_um is None) == (level not in WearReading.Level.values):
        raise Refused(
            f"{fitting.label}: enter the wear land in µm, or one of "
            f"{', '.join(WearReading.Level.labels)}."
        )
    if vb_um is not None and not 0 <= vb_um <= 5000:
        raise Refused(f"{fitting.label}: a wear land of {vb_um} µm can't be. Enter 0 to 5000.")
    return WearReading.objects.create(
        fitting=fitting, vb_um=vb_um, level=level, day=day, life_at=fitting.life_used
    )


@action
def remove(
    *, fitting: Fitting, reason: str, day: date, note: str = "", by: User | None = None
) -> Fitting:
    """End a fitting: worn, broken, removed early or lost."""
    return _remove(fitting, reason, day, note)


@action
def swap(
    *,
    fitting: Fitting,
    reason: str,
    day: date,
    label: str = "",
    note: str = "",
    continues: Fitting | None = None,
    regrind: Regrind | None = None,
    by: User | None = None,
) -> Fitting:
    """Remove one and fit the next of the same item in its pocket; the new one is returned.

    The next one comes from stock, or is one set aside or reground, as for `fit`.
    """
    old = _remove(fitting, reason, day, note)
    return fit(
        item=old.item,
        machine=old.machine,
        pocket=old.pocket,
        day=day,
        label=label,
        work_material=old.work_material,
        cutting_data=old.cutting_data,
        continues=continues,
        regrind=regrind,
        by=by,
    )


def _remove(fitting: Fitting, reason: str, day: date, note: str) -> Fitting:
    fitting = _locked(fitting)
    if reason not in ENDS.values:
        raise Refused(f"{fitting.label}: say why: {', '.join(ENDS.labels)}.")
    _refuse_outside_life(fitting, day)
    fitting.removed_on, fitting.end_reason = day, reason
    fitting.note = note or fitting.note
    fitting.save(update_fields=["removed_on", "end_reason", "note"])
    return fitting


def _move_readings_back(fitting: Fitting, log: WearLog) -> None:
    """What was read since the entry was read at less life than noted."""
    up_to_it = fitting.logs.filter(pk__lte=log.pk).order_by().aggregate(life=Sum("amount"))
    since = list(fitting.readings.filter(life_at__gte=fitting.life_before + up_to_it["life"]))
    for reading in since:
        reading.life_at -= log.amount
    WearReading.objects.bulk_update(since, ["life_at"])


def _locked(fitting: Fitting) -> Fitting:
    return (
        Fitting.objects.select_for_update(of=("self",))
        .select_related("item", "machine")
        .get(pk=fitting.pk)
    )


def _known_spelling(machine: Machine, pocket: str) -> str:
    """A pocket as it was written first: t4 is T4."""
    pocket = " ".join(pocket.split())
    seen = Fitting.objects.filter(machine=machine, pocket__iexact=pocket).order_by("pk").first()
    return seen.pocket if seen else pocket


def _refuse_bad_fit(item: Item, machine: Machine, pocket: str, regrinds: int) -> None:
    if not item.wears:
        raise Refused(f"{item.code} has no life of its own. Give the item a life unit first.")
    if not pocket:
        raise Refused(f"{item.code}: name the pocket or spindle it goes into.")
    if not 0 <= regrinds <= MOST_REGRINDS:
        raise Refused(f"{item.code}: {regrinds} regrinds can't be. Enter 0 to {MOST_REGRINDS}.")
    if item.most_regrinds is not None and regrinds > item.most_regrinds:
        raise Refused(
            f"{item.code} takes {item.most_regrinds} regrinds, and this one had {regrinds}. Fit "
            "another one, or change the number on the item's page."
        )
    there = Fitting.objects.filter(machine=machine, pocket=pocket, removed_on=None).first()
    if there:
        raise WrongState(
            f"{machine} {pocket} holds {there.label} ({there.item.code}). Remove that one first."
        )


def _from_stock(
    item: Item, lot: Lot | None, day: date, where: str, by: User | None
) -> dict[str, Any]:
    lock_items([item.pk])
    entries = take_first_expired(item, Decimal(1), day, lot=lot)
    post("issue", entries, day=day, by=by, reason=INTO_A_MACHINE, note=where)
    return {"lot": entries[0].lot, "revision": item.revision}


def _going_on(item: Item, before: Fitting, day: date) -> dict[str, Any]:
    _refuse_other_item(item, before)
    is_sent_out = hasattr(before, "sent_out")
    if before.end_reason != ENDS.REMOVED_EARLY or hasattr(before, "continued_by") or is_sent_out:
        raise WrongState(f"{before.label} can't go on: it wasn't set aside while still good.")
    if day < before.removed_on:
        raise Refused(
            f"{before.label} was taken out on {show_day(before.removed_on)}, after {show_day(day)}."
        )
    return {
        "lot": before.lot,
        "revision": before.revision,
        "regrinds": before.regrinds,
        "diameter_um": before.diameter_um,
        "work_material": before.work_material,
        "cutting_data": before.cutting_data,
        "continues": before,
        "life_before": before.life_used,
        "life_used": before.life_used,
    }


def _reground(item: Item, regrind: Regrind, day: date) -> dict[str, Any]:
    before = regrind.fitting
    _refuse_other_item(item, before)
    if regrind.back_on is None or not regrind.is_usable or regrind.fitted_as_id:
        raise WrongState(f"{before.label} isn't here reground and unused. Choose another one.")
    if day < regrind.back_on:
        raise Refused(f"{before.label} came back on {show_day(regrind.back_on)}, after that day.")
    return {
        "lot": before.lot,
        "revision": before.revision,
        "regrinds": before.regrinds + 1,
        "diameter_um": regrind.diameter_um,
        "label": _label_of_reground(before),
    }


def _label_of_reground(before: Fitting) -> str:
    """T-0012 is T-0012-R1 after its first regrind; none where that is too long or taken."""
    stem = REGROUND.sub("", before.label)
    label = f"{stem}-R{before.regrinds + 1}"
    longest = Fitting._meta.get_field("label").max_length
    taken = Fitting.objects.filter(label=label).exists()
    return "" if len(label) > longest or taken else label


def _refuse_other_item(item: Item, before: Fitting) -> None:
    if before.item_id != item.pk:
        raise Refused(f"{before.label} is a {before.item.code}, not a {item.code}.")


def _refuse_outside_life(fitting: Fitting, day: date) -> None:
    refuse_impossible_day(day)
    if fitting.removed_on is not None:
        raise WrongState(
            f"{fitting.label} was removed on {show_day(fitting.removed_on)} "
            f"({fitting.get_end_reason_display()}). Choose the one that is fitted now."
        )
    _refuse_before_it_was_fitted(fitting, day)


def _refuse_not_in_then(fitting: Fitting, day: date) -> None:
    refuse_impossible_day(day)
    if hasattr(fitting, "continued_by"):
        raise WrongState(
            f"{fitting.label} goes on as {fitting.continued_by.label}; log it there instead."
        )
    if fitting.removed_on is not None and day > fitting.removed_on:
        raise Refused(
            f"{fitting.label} was taken out on {show_day(fitting.removed_on)}, before "
            f"{show_day(day)}."
        )
    _refuse_before_it_was_fitted(fitting, day)


def _refuse_before_it_was_fitted(fitting: Fitting, day: date) -> None:
    if day < fitting.fitted_on:
        raise Refused(
            f"{fitting.label} was fitted on {show_day(fitting.fitted_on)}, after {show_day(day)}."
        )
