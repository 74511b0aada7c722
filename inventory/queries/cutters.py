"""What is fitted, how worn it is, and how long its kind lasts."""

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import QuerySet

from forecasting.tool_life import LifeRecord, Prior
from inventory.models import Fitting, Item

FAILED = (Fitting.EndReason.WORN, Fitting.EndReason.BROKEN)
TOO_LONG = 3
"""Times the usual life beyond which a change was rather not logged: common practice, no source."""
APART = 2
"""Times any other life that one must last besides: so long ones of a spread kind are believed."""
ENOUGH_TO_TELL = 3
MOST_SLIPS = 2


def fitted_now() -> QuerySet[Fitting]:
    """Everything in a machine, with item and machine fetched along."""
    return Fitting.objects.filter(removed_on__isnull=True).select_related("item", "machine")


def fitted_by_item(items: Iterable[Item]) -> dict[int, list[Fitting]]:
    """The same of these items by item id, the most worn first."""
    found: dict[int, list[Fitting]] = defaultdict(list)
    for fitting in fitted_now().filter(item__in=list(items)).order_by("-life_used", "pk"):
        found[fitting.item_id].append(fitting)
    return found


def records_of(lives: Iterable[Fitting]) -> list[LifeRecord]:
    """Lives as a fit takes them: only worn and broken are failures."""
    return [LifeRecord(float(life.life_used), life.end_reason in FAILED) for life in lives]


def too_long(lives: Iterable[Fitting], stated: Decimal | None) -> list[Fitting]:
    """Lives of one kind that can't be true: far beyond the usual life and beyond all others.

    The usual life is the stated one, else the middle of three lives or more. Several such lives are
    no slips: then what is stated is wrong, or the work unlike. Those a person confirmed are believed.
    """
    rising = sorted(
        (life for life in lives if life.life_used > 0), key=lambda life: (life.life_used, life.pk)
    )
    usual = stated
    if not usual and len(rising) >= ENOUGH_TO_TELL:
        usual = rising[(len(rising) - 1) // 2].life_used
    if not usual:
        return []
    longest, found = Decimal(0), []
    for life in rising:
        is_beyond = life.life_used > max(TOO_LONG * usual, APART * longest)
        if is_beyond and not life.is_life_confirmed:
            found.append(life)
        else:
            longest = life.life_used
    return found if len(found) <= MOST_SLIPS else []


def prior_of(item: Item) -> Prior | None:
    """The item's usual life and shape as a prior; None when the shop states none."""
    if item.rated_life is None:
        return None
    shape = float(item.rated_shape) if item.rated_shape else 2.0
    return Prior(float(item.rated_life), shape, source="the usual life entered for the item")
