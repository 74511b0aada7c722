"""Lives of cutters from before the records began, so that the chances start with experience."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError

from inventory.actions.numbering import FITTED, next_numbers
from inventory.actions.posting import refuse_impossible_day
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import Fitting, Item, Machine, User, WearLog


@dataclass(frozen=True)
class PastLife:
    """One of an item from fitted to removed; life_used in the item's life unit.

    operation: in which it was used. revision: of the item then; None is the present one.
    """

    item: Item
    machine: str
    pocket: str
    fitted_on: date
    removed_on: date
    life_used: Decimal
    end_reason: str
    work_material: str = ""
    operation: str = ""
    cutting_data: str = ""
    regrinds: int = 0
    revision: int | None = None
    note: str = ""


@action
def record_past_lives(*, lives: Sequence[PastLife], by: User | None = None) -> int:
    """Keep ended lives with one wear log each and return how many; no stock moves.

    Machines that aren't there yet are made. Refuses items without a life, days that can't be, and
    a life of nothing.
    """
    for life in lives:
        refuse_impossible_life(life)
    machines = _machines({life.machine for life in lives})
    labels = next_numbers(FITTED, len(lives), Fitting, "label")
    fittings = Fitting.objects.bulk_create(
        _fitting(life, machines.get(life.machine), label)
        for life, label in zip(lives, labels, strict=True)
    )
    WearLog.objects.bulk_create(
        WearLog(
            fitting=fitting,
            amount=fitting.life_used,
            day=fitting.removed_on,
            operation=life.operation,
        )
        for fitting, life in zip(fittings, lives, strict=True)
    )
    return len(fittings)


def refuse_impossible_life(life: PastLife) -> None:
    """Raise Refused for what can't have been."""
    code = life.item.code
    if not life.item.wears:
        raise Refused(f"{code} has no life. Give the item a life unit first.")
    refuse_impossible_day(life.fitted_on)
    refuse_impossible_day(life.removed_on)
    if life.removed_on < life.fitted_on:
        raise Refused(
            f"{code}: removed on {show_day(life.removed_on)}, before it was fitted on "
            f"{show_day(life.fitted_on)}? Check both days."
        )
    if life.life_used <= 0:
        raise Refused(f"{code}: a life of {life.life_used}? Enter what was used, above zero.")
    if life.revision is not None and not 1 <= life.revision <= life.item.revision:
        raise Refused(f"{code} is at revision {life.item.revision}; there is no {life.revision}.")
    try:
        _fitting(life, None, "").clean_fields(exclude=["item", "lot", "machine", "label"])
        Machine(name=life.machine).clean_fields()
        WearLog(operation=life.operation).clean_fields(exclude=["fitting", "amount", "day"])
    except ValidationError as error:
        raise Refused(f"{code}: {' '.join(error.messages)}") from error


def _machines(names: set[str]) -> dict[str, Machine]:
    known = set(Machine.objects.filter(name__in=names).values_list("name", flat=True))
    Machine.objects.bulk_create(Machine(name=name) for name in sorted(names - known))
    return {machine.name: machine for machine in Machine.objects.filter(name__in=names)}


def _fitting(life: PastLife, machine: Machine | None, label: str) -> Fitting:
    return Fitting(
        item=life.item,
        label=label,
        machine=machine,
        pocket=life.pocket,
        revision=life.item.revision if life.revision is None else life.revision,
        regrinds=life.regrinds,
        work_material=life.work_material,
        cutting_data=life.cutting_data,
        life_used=life.life_used,
        fitted_on=life.fitted_on,
        removed_on=life.removed_on,
        end_reason=life.end_reason,
        note=life.note,
    )
