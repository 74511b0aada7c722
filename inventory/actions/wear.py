"""Cutters and other wearing items: fitted, used, measured, changed."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

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
    User,
    WearLog,
    WearReading,
)

ENDS = Fitting.EndReason
INTO_A_MACHINE = "fitted"


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
    continues: Fitting | None = None,
    note: str = "",
    by: User | None = None,
) -> Fitting:
    """Fit one of an item in a pocket; it leaves stock and its life begins.

    `continues`: the same one was fitted before and removed early; nothing leaves stock and its life
    goes on. Refuses an occupied pocket and an item that doesn't wear.
    """
    refuse_impossible_day(day)
    _refuse_bad_fit(item, machine, pocket, continues)
    if label and Fitting.objects.filter(label=label).exists():
        raise Refused(f"The label {label} is taken. Leave it empty to get the next number.")
    if continues is None:
        lock_items([item.pk])
        entries = take_first_expired(item, Decimal(1), day, lot=lot)
        post("issue", entries, day=day, by=by, reason=INTO_A_MACHINE, note=f"{machine} {pocket}")
        lot = entries[0].lot
    before = continues.life_used if continues else Decimal(0)
    return Fitting.objects.create(
        item=item,
        lot=continues.lot if continues else lot,
        label=label or next_number(FITTED, Fitting, "label"),
        machine=machine,
        pocket=pocket,
        revision=continues.revision if continues else item.revision,
        regrinds=regrinds,
        diameter_um=diameter_um,
        work_material=work_material,
        continues=continues,
        life_before=before,
        life_used=before,
        fitted_on=day,
        note=note,
    )


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
    """Add life used, in the item's life unit. Refuses nothing, and one that isn't fitted then."""
    (log,) = log_together(amounts={fitting.pk: amount}, day=day, batch=batch, operation=operation)
    return log


def log_together(
    *,
    amounts: Mapping[int, Decimal],
    day: date,
    batch: Batch | None = None,
    operation: str = "",
) -> list[WearLog]:
    """The same for several fittings (id -> life used) inside another action."""
    fittings = list(
        Fitting.objects.select_for_update(of=("self",))
        .select_related("item", "machine")
        .filter(pk__in=amounts)
        .order_by("pk")
    )
    for fitting in fittings:
        if amounts[fitting.pk] <= 0:
            raise Refused(
                f"{fitting.label}: {amounts[fitting.pk]} used? Enter an amount above zero."
            )
        _refuse_outside_life(fitting, day)
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
    """Take back a wrong entry by its negative; the wrong one stays readable."""
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
    return back


@action
def read_wear(*, fitting: Fitting, vb_um: int, day: date, by: User | None = None) -> WearReading:
    """Note a wear land reading VB in µm at the life used so far; a falling one is kept too."""
    fitting = _locked(fitting)
    _refuse_outside_life(fitting, day)
    if not 0 <= vb_um <= 5000:
        raise Refused(f"{fitting.label}: a wear land of {vb_um} µm can't be. Enter 0 to 5000.")
    return WearReading.objects.create(
        fitting=fitting, vb_um=vb_um, day=day, life_at=fitting.life_used
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
    by: User | None = None,
) -> Fitting:
    """Remove one and fit the next of the same item in its pocket; the new one is returned."""
    old = _remove(fitting, reason, day, note)
    return fit(
        item=old.item,
        machine=old.machine,
        pocket=old.pocket,
        day=day,
        label=label,
        work_material=old.work_material,
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


def _locked(fitting: Fitting) -> Fitting:
    return (
        Fitting.objects.select_for_update(of=("self",))
        .select_related("item", "machine")
        .get(pk=fitting.pk)
    )


def _refuse_bad_fit(item: Item, machine: Machine, pocket: str, continues: Fitting | None) -> None:
    if not item.wears:
        raise Refused(f"{item.code} has no life of its own. Give the item a life unit first.")
    if not pocket:
        raise Refused(f"{item.code}: name the pocket or spindle it goes into.")
    there = Fitting.objects.filter(machine=machine, pocket=pocket, removed_on=None).first()
    if there:
        raise WrongState(
            f"{machine} {pocket} holds {there.label} ({there.item.code}). Remove that one first."
        )
    if continues is None:
        return
    if continues.item_id != item.pk:
        raise Refused(f"{continues.label} is a {continues.item.code}, not a {item.code}.")
    if continues.end_reason != ENDS.REMOVED_EARLY or hasattr(continues, "continued_by"):
        raise WrongState(f"{continues.label} can't go on: it wasn't set aside while still good.")


def _refuse_outside_life(fitting: Fitting, day: date) -> None:
    refuse_impossible_day(day)
    if fitting.removed_on is not None:
        raise WrongState(
            f"{fitting.label} was removed on {show_day(fitting.removed_on)} "
            f"({fitting.get_end_reason_display()}). Choose the one that is fitted now."
        )
    if day < fitting.fitted_on:
        raise Refused(
            f"{fitting.label} was fitted on {show_day(fitting.fitted_on)}, after {show_day(day)}."
        )
