"""A line of the reorder list put aside until a day, and brought back."""

from datetime import date, timedelta

from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import Item, Snooze, User

LONGEST = timedelta(days=366)


@action
def snooze_item(
    *,
    item: Item,
    until: date,
    day: date,
    runs_out: date | None = None,
    reason: str = "",
    by: User | None = None,
) -> Item:
    """Put an item's line aside until a day, or another day than before; orders nothing.

    runs_out: when it is expected to run out now; earlier brings the line back before its day.
    Refuses a day that isn't ahead, or lies more than a year ahead.
    """
    if until <= day:
        raise Refused(f"{item.code}: {show_day(until)} isn't ahead. Choose a day from tomorrow on.")
    if until > day + LONGEST:
        raise Refused(
            f"{item.code}: {show_day(until)} is more than a year ahead. Choose an earlier day, "
            "or discontinue the item."
        )
    kept = {"until": until, "day": day, "runs_out": runs_out, "reason": reason, "by": by}
    Snooze.objects.update_or_create(item=item, defaults=kept)
    return item


@action
def end_snooze(*, item: Item, by: User | None = None) -> Item:
    """Bring the item's line back to the list; nothing happens when it isn't put aside."""
    Snooze.objects.filter(item=item).delete()
    return item
