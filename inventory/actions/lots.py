"""What is decided about a lot: released or rejected, opened, extended after a test."""

from datetime import date, timedelta

from django.utils import timezone

from inventory.actions.posting import refuse_impossible_day
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import Lot, User
from inventory.models.lot import expiry

LONGEST_EXTENSION = timedelta(days=3660)
NEED_A_NOTE = (Lot.Status.REJECTED, Lot.Status.QUARANTINE, Lot.Status.UNKNOWN)


@action
def set_lot_status(*, lot: Lot, status: str, note: str = "", by: User | None = None) -> Lot:
    """Release, reject or quarantine a lot, or say that it is unknown.

    Anything but releasing what was looked at needs a note: also releasing a lot that was unknown.
    """
    read_again(lot)
    if status not in Lot.Status.values:
        raise Refused(f"Lot {lot.number}: “{status}” is no status. Choose one of the list.")
    if not note and status in NEED_A_NOTE:
        raise Refused(f"Lot {lot.number}: say in a note why it is {Lot.Status(status).label}.")
    if not note and lot.status == Lot.Status.UNKNOWN:
        raise Refused(f"Lot {lot.number}: say in a note how it was told which material it is.")
    lot.status = status
    if note:
        add_note(lot, f"{lot.get_status_display()}: {note}", by)
    lot.save(update_fields=["status", "note"])
    return lot


@action
def open_lot(*, lot: Lot, day: date, by: User | None = None) -> Lot:
    """Note the day a container was opened; the shorter opened life may now count."""
    read_again(lot)
    refuse_impossible_day(day)
    if lot.opened_on:
        raise Refused(f"Lot {lot.number} was opened on {show_day(lot.opened_on)}.")
    if day < lot.received_on:
        raise Refused(
            f"Lot {lot.number} came in on {show_day(lot.received_on)}, after {show_day(day)}."
        )
    lot.opened_on = day
    opened = expiry(None, lot.item.opened_life_days, None, day)
    lot.expires_on = min((d for d in (lot.expires_on, opened) if d), default=None)
    lot.save(update_fields=["opened_on", "expires_on"])
    return lot


@action
def extend_lot(*, lot: Lot, expires_on: date, note: str, by: User | None = None) -> Lot:
    """Move the expiry of a lot after a test mix, or back again; the note says why.

    Refuses a lot that doesn't expire and a day further off than LONGEST_EXTENSION.
    """
    read_again(lot)
    if not note:
        raise Refused(f"Lot {lot.number}: say which test shows that it is still good.")
    if lot.expires_on is None:
        raise Refused(f"Lot {lot.number} has no use-by day. There is nothing to extend.")
    if expires_on > timezone.localdate() + LONGEST_EXTENSION:
        raise Refused(f"Lot {lot.number}: until {show_day(expires_on)}? Check the year.")
    if expires_on == lot.expires_on:
        raise Refused(f"Lot {lot.number} lasts until {show_day(lot.expires_on)} already.")
    verb = "extended" if expires_on > lot.expires_on else "shortened"
    add_note(lot, f"{verb} from {show_day(lot.expires_on)} to {show_day(expires_on)}: {note}", by)
    lot.expires_on = expires_on
    lot.save(update_fields=["expires_on", "note"])
    return lot


def read_again(lot: Lot) -> None:
    """Take in what others noted since the lot was read; it is locked until the action ends."""
    lot.refresh_from_db(from_queryset=Lot.objects.select_for_update())


def add_note(lot: Lot, note: str, by: User | None) -> None:
    """Put a dated line below the earlier ones; the caller saves the lot."""
    who = f", {by}" if by else ""
    lot.note = f"{lot.note}\n{show_day(timezone.localdate())}{who}: {note}".strip()
