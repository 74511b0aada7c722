"""A cutter sent out to be reground, and back: the same one, with a new life."""

from datetime import date

from inventory.actions.posting import refuse_impossible_day
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused, WrongState
from inventory.models import Fitting, Regrind, Supplier, User
from inventory.units import show_length

ENDS = Fitting.EndReason
LARGEST_UM = 500_000
"""No cutter of such a shop is larger: common practice, no source."""


@action
def send_to_regrind(
    *,
    fitting: Fitting,
    day: date,
    vendor: Supplier | None = None,
    note: str = "",
    by: User | None = None,
) -> Regrind:
    """Send one out that is in no machine. No stock moves: it left stock when it was fitted.

    Refuses one that is fitted, lost, on its way already, fitted again since, or at its last regrind.
    """
    refuse_impossible_day(day)
    fitting = Fitting.objects.select_for_update(of=("self",)).get(pk=fitting.pk)
    _refuse_not_here(fitting)
    if day < fitting.removed_on:
        raise Refused(
            f"{fitting.label} was taken out on {show_day(fitting.removed_on)}, after "
            f"{show_day(day)}."
        )
    most = fitting.item.most_regrinds
    if most is not None and fitting.regrinds >= most:
        raise Refused(
            f"{fitting.label} was reground {fitting.regrinds} times, and {fitting.item.code} takes "
            f"{most}. Fit a new one, or change the number on the item's page."
        )
    return Regrind.objects.create(fitting=fitting, vendor=vendor, sent_on=day, note=note)


@action
def bring_back_reground(
    *,
    regrind: Regrind,
    day: date,
    diameter_um: int | None = None,
    is_usable: bool = True,
    note: str = "",
    by: User | None = None,
) -> Regrind:
    """Take one back with its measured diameter; from then on it can be fitted as a new life.

    Refuses a day before it went, one that is back, and one below the diameter still used, unless it
    is noted as not usable.
    """
    refuse_impossible_day(day)
    regrind = Regrind.objects.select_for_update(of=("self",)).get(pk=regrind.pk)
    label = regrind.fitting.label
    if regrind.back_on is not None:
        raise WrongState(f"{label} came back on {show_day(regrind.back_on)}. Nothing was changed.")
    if day < regrind.sent_on:
        raise Refused(f"{label} went out on {show_day(regrind.sent_on)}, after {show_day(day)}.")
    _refuse_grown(regrind.fitting, diameter_um)
    if is_usable:
        _refuse_under_size(regrind.fitting, diameter_um)
    regrind.back_on, regrind.diameter_um, regrind.is_usable = day, diameter_um, is_usable
    regrind.note = note or regrind.note
    regrind.save(update_fields=["back_on", "diameter_um", "is_usable", "note"])
    return regrind


def _refuse_not_here(fitting: Fitting) -> None:
    if fitting.is_fitted:
        raise WrongState(f"{fitting.label} is in {fitting.machine} {fitting.pocket}. Take it out.")
    if fitting.end_reason == ENDS.LOST:
        raise WrongState(f"{fitting.label} is lost. Choose one that is here.")
    if hasattr(fitting, "sent_out"):
        raise WrongState(
            f"{fitting.label} went out on {show_day(fitting.sent_out.sent_on)}. Nothing was changed."
        )
    if hasattr(fitting, "continued_by"):
        raise WrongState(f"{fitting.label} goes on as {fitting.continued_by.label}. Choose that.")


def _refuse_grown(fitting: Fitting, diameter_um: int | None) -> None:
    """Grinding takes off: it can't measure more than before, or than a new one."""
    before = fitting.diameter_um or fitting.item.diameter_um or LARGEST_UM
    if diameter_um is not None and not 0 < diameter_um <= before:
        raise Refused(
            f"{fitting.label}: {show_length(diameter_um)} after grinding? It was "
            f"{show_length(before)} at most before. Measure it again."
        )


def _refuse_under_size(fitting: Fitting, diameter_um: int | None) -> None:
    smallest = fitting.item.smallest_diameter_um
    if smallest is None:
        return
    if diameter_um is None:
        raise Refused(f"{fitting.label}: measure its diameter, or note it as not usable.")
    if diameter_um < smallest:
        raise Refused(
            f"{fitting.label} measures {show_length(diameter_um)}; {fitting.item.code} is used down "
            f"to {show_length(smallest)}. Note it as not usable."
        )
