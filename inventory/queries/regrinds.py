"""Cutters out to be reground, and those that are back and ready to be fitted."""

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import QuerySet

from inventory.models import Item, Regrind


def out_to_regrind() -> QuerySet[Regrind]:
    """What is out to be reground, the longest first."""
    return _regrinds().filter(back_on__isnull=True)


def back_from_regrind() -> QuerySet[Regrind]:
    """Reground ones that are here and may be fitted, the first that came back first."""
    ready = _regrinds().filter(back_on__isnull=False, is_usable=True, fitted_as__isnull=True)
    return ready.order_by("back_on", "pk")


def reground_by_item(items: Iterable[Item]) -> dict[int, list[Regrind]]:
    """The same by item id, of the item's present revision: an earlier one is another cutter."""
    wearing = {item.pk: item for item in items}
    found: dict[int, list[Regrind]] = defaultdict(list)
    for one in back_from_regrind().filter(fitting__item__in=wearing):
        if one.fitting.revision == wearing[one.fitting.item_id].revision:
            found[one.fitting.item_id].append(one)
    return found


def _regrinds() -> QuerySet[Regrind]:
    return Regrind.objects.select_related("fitting__item", "vendor")
