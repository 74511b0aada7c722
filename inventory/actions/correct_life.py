"""What was wrongly noted of one cutter's life, put right; who did it stays readable."""

from datetime import date

from inventory.actions.request import action
from inventory.actions.reverse import undo_posting
from inventory.actions.wear import INTO_A_MACHINE
from inventory.days import show_day
from inventory.errors import Refused, WrongState
from inventory.models import Fitting, LifeCorrection, Posting, Regrind, User, WearReading
from inventory.units import show_number

ENDS = Fitting.EndReason


@action
def correct_end_reason(*, fitting: Fitting, reason: str, by: User | None = None) -> Fitting:
    """Say otherwise why a life ended.

    Refuses one that is still in, the reason that stands, and one that what came since rules out.
    """
    fitting = _locked(fitting)
    if reason not in ENDS.values:
        raise Refused(f"{fitting.label}: say why: {', '.join(ENDS.labels)}.")
    if fitting.is_fitted:
        raise WrongState(f"{fitting.label} is in {fitting.machine} {fitting.pocket}. Take it out.")
    if reason == fitting.end_reason:
        raise WrongState(
            f"{fitting.label} is noted as {fitting.get_end_reason_display()} already. Nothing was "
            "changed."
        )
    if hasattr(fitting, "continued_by"):
        raise WrongState(
            f"{fitting.label} goes on as {fitting.continued_by.label}, so it was removed early."
        )
    if hasattr(fitting, "sent_out") and reason == ENDS.LOST:
        raise WrongState(
            f"{fitting.label} went out to be reground on {show_day(fitting.sent_out.sent_on)}, so it "
            "isn't lost. Take that back first."
        )
    was = fitting.get_end_reason_display()
    fitting.end_reason = reason
    fitting.save(update_fields=["end_reason"])
    _note(fitting, f"Was noted as {was}; it was {fitting.get_end_reason_display()}.", by)
    return fitting


@action
def put_back_in(*, fitting: Fitting, day: date, by: User | None = None) -> Fitting:
    """It never came out: its life goes on in its pocket, and the one noted after it goes back.

    The successor returns to stock, to the reground ones or to those set aside, whence it came; with
    entries of its own, taken back since, it is set aside. Refuses a successor that has worked, a
    pocket that holds another, and one that was sent out or goes on elsewhere.
    day: of the stock entry that returns the successor.
    """
    fitting = _locked(fitting)
    _refuse_moved_on(fitting)
    ended = f"{fitting.get_end_reason_display()} on {show_day(fitting.removed_on)}"
    successor = Fitting.objects.filter(
        machine=fitting.machine, pocket=fitting.pocket, pk__gt=fitting.pk
    ).order_by("pk")
    words = f"Was noted as {ended}; it never came out."
    if after := successor.first():
        words += f" {after.label} {_take_out_again(after, fitting, day, by)}."
    fitting.removed_on, fitting.end_reason = None, ""
    fitting.save(update_fields=["removed_on", "end_reason"])
    _note(fitting, words, by)
    return fitting


@action
def confirm_life(*, fitting: Fitting, by: User | None = None) -> Fitting:
    """Count a life though it is far beyond all others: it is true."""
    fitting = _locked(fitting)
    fitting.is_life_confirmed = True
    fitting.save(update_fields=["is_life_confirmed"])
    life = f"{show_number(fitting.life_used, 1)} {fitting.item.life_unit}"
    _note(fitting, f"Its life of {life} is true; it is counted.", by)
    return fitting


@action
def take_back_reading(*, reading: WearReading, by: User | None = None) -> Fitting:
    """Strike a wear reading that is wrong; the record says what it read."""
    fitting = reading.fitting
    _note(fitting, f"Reading of {show_day(reading.day)} taken back: {reading}.", by)
    reading.delete()
    return fitting


@action
def take_back_regrind(*, regrind: Regrind, by: User | None = None) -> Fitting:
    """It wasn't sent out to be reground after all. Refuses one that came back."""
    regrind = Regrind.objects.select_for_update(of=("self",)).get(pk=regrind.pk)
    fitting = regrind.fitting
    if regrind.back_on is not None:
        raise WrongState(
            f"{fitting.label} came back from regrinding on {show_day(regrind.back_on)}. Nothing was "
            "changed."
        )
    _note(fitting, f"Noted as sent out on {show_day(regrind.sent_on)}; it stayed here.", by)
    regrind.delete()
    return fitting


def _refuse_moved_on(fitting: Fitting) -> None:
    if fitting.is_fitted:
        raise WrongState(f"{fitting.label} is in {fitting.machine} {fitting.pocket}.")
    if hasattr(fitting, "sent_out"):
        raise WrongState(
            f"{fitting.label} was sent out to be reground on {show_day(fitting.sent_out.sent_on)}. "
            "Take that back first."
        )
    if hasattr(fitting, "continued_by"):
        raise WrongState(
            f"{fitting.label} goes on as {fitting.continued_by.label}. Correct it there."
        )


def _take_out_again(after: Fitting, before: Fitting, day: date, by: User | None) -> str:
    """Undo the fitting of a successor; what became of it, in words."""
    if after.life_used > after.life_before:
        raise WrongState(
            f"{after.label} has worked in {after.machine} {after.pocket} since. Move its entries to "
            "the cutter that did the work, or take them back, first."
        )
    if not after.is_fitted:
        raise WrongState(
            f"{after.label} was in {after.machine} {after.pocket} since, and came out on "
            f"{show_day(after.removed_on)}. Put that one right first."
        )
    if after.logs.exists() or after.readings.exists() or after.corrections.exists():
        after.removed_on, after.end_reason = max(day, after.fitted_on), ENDS.REMOVED_EARLY
        after.save(update_fields=["removed_on", "end_reason"])
        return "is set aside"
    where = "is set aside again"
    ground = Regrind.objects.filter(fitted_as=after).first()
    if ground is not None:
        ground.fitted_as = None
        ground.save(update_fields=["fitted_as"])
        where = "is back among the reground ones"
    elif after.continues_id is None:
        undo_posting(_fitting_entry(after), day=day, by=by, note=f"{before.label} never came out")
        where = "went back into stock"
    after.delete()
    return where


def _fitting_entry(fitting: Fitting) -> Posting:
    """The entry by which it left stock."""
    entry = Posting.objects.filter(
        reason=INTO_A_MACHINE,
        note=f"{fitting.machine} {fitting.pocket}",
        day=fitting.fitted_on,
        movements__lot=fitting.lot,
        reversed_by__isnull=True,
    ).first()
    if entry is None:
        raise WrongState(
            f"No stock entry of {fitting.label} is left to undo. Take it out as removed early."
        )
    return entry


def _locked(fitting: Fitting) -> Fitting:
    return (
        Fitting.objects.select_for_update(of=("self",))
        .select_related("item", "machine")
        .get(pk=fitting.pk)
    )


def _note(fitting: Fitting, words: str, by: User | None) -> None:
    LifeCorrection.objects.create(fitting=fitting, words=words, by=by)
