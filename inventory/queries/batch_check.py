"""Can this batch be made: what it takes, what is here and usable, what runs short, when to start."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from forecasting.explosion import Explosion, Made
from inventory.models import Batch, Item, Shop
from inventory.queries.arrivals import covered_on
from inventory.queries.availability import Stock
from inventory.queries.batch_needs import (
    Started,
    Wanted,
    batch_builds,
    needs_by_item,
    start_builds,
)
from inventory.queries.can_make import can_make
from inventory.queries.cautions import Caution, cautions_for
from inventory.queries.material_check import MaterialCheck, check_materials
from inventory.queries.service_check import ServiceCheck, check_service
from inventory.queries.shelf import Shelf, look_at_shelf
from inventory.queries.wear_ahead import jobs_before
from inventory.queries.wear_check import WearCheck, check_wear


@dataclass(frozen=True)
class MadeCheck:
    """A part made in house: from stock, and what is still to make (ready after its wait)."""

    item: Item
    made: Made
    stock: Stock

    @property
    def ahead(self) -> bool:
        """It cures or rests, so it must be made before the day the batch starts."""
        return bool(self.made.to_make and self.made.wait_days)


@dataclass(frozen=True)
class BatchCheck:
    """The whole answer, on `day`.

    can_make: good knives per line that could be started now, lines served in order. limited_by:
    items that stop the next one. start_on: first day everything could be here; None when
    something has no supplier. ready_on: after waits and outside services. exploded: every single
    need, to show how a sum came about.
    """

    day: date
    lines: list[Started]
    materials: list[MaterialCheck]
    made: list[MadeCheck]
    wear: list[WearCheck]
    services: list[ServiceCheck]
    can_make: list[int]
    limited_by: list[Item]
    start_on: date | None
    ready_on: date | None
    cautions: list[Caution]
    exploded: Explosion

    @property
    def short(self) -> list[MaterialCheck]:
        return [check for check in self.materials if check.is_short]

    @property
    def wear_short(self) -> list[WearCheck]:
        return [check for check in self.wear if check.short]

    @property
    def will_not_last(self) -> list[WearCheck]:
        return [check for check in self.wear if not check.lasts]

    @property
    def is_possible(self) -> bool:
        return not self.short and not self.wear_short


def check_batch(wanted: Sequence[Wanted], day: date) -> BatchCheck:
    """Check products and quantities that are only asked about. Raises: Refused."""
    shop = Shop.objects.get()
    return _check(start_builds(wanted, float(shop.start_confidence)), day, None, shop)


def check_planned_batch(batch: Batch, day: date) -> BatchCheck:
    """Check a planned or reserved batch; what is held for it counts as free."""
    return _check(batch_builds(batch), day, batch, Shop.objects.get())


def _check(lines: list[Started], day: date, batch: Batch | None, shop: Shop) -> BatchCheck:
    shelf = look_at_shelf(day, batch)
    items = shelf.items
    exploded = shelf.explode(line.build for line in lines)
    materials = check_materials(shelf, exploded)
    wear = check_wear(
        exploded.wear, shelf.stock, float(shop.wear_confidence), jobs_before(batch, day)
    )
    made = [
        MadeCheck(items[part.item], part, shelf.stock_of(items[part.item]))
        for part in exploded.made
    ]
    services = [
        check_service(shelf, items[code], needs)
        for code, needs in sorted(needs_by_item(exploded.services).items())
    ]
    counts, limits = can_make(shelf, lines, materials, wear)
    start_on = _start_on(shelf, materials, wear, made)
    used = [check.item for check in (*materials, *made, *wear)]
    return BatchCheck(
        day=day,
        lines=lines,
        materials=materials,
        made=made,
        wear=wear,
        services=services,
        can_make=counts,
        limited_by=limits,
        start_on=start_on,
        ready_on=_ready_on(start_on, lines, services),
        cautions=cautions_for(used, [line.record for line in lines]),
        exploded=exploded,
    )


def _start_on(
    shelf: Shelf,
    materials: list[MaterialCheck],
    wear: list[WearCheck],
    made: list[MadeCheck],
) -> date | None:
    """First day on which everything could be here and cured."""
    days = [check.covered for check in materials if check.is_short]
    for check in wear:
        if check.short:
            arrivals = shelf.arrivals.get(check.item.pk, [])
            offer = shelf.offers.get(check.item.pk)
            days.append(covered_on(Decimal(check.short), arrivals, offer, shelf.day)[0])
    if None in days:
        return None
    cure = max((check.made.wait_days for check in made if check.ahead), default=0)
    return max(days, default=shelf.day) + timedelta(days=cure)


def _ready_on(
    start_on: date | None, lines: list[Started], services: list[ServiceCheck]
) -> date | None:
    """After the longest chain of waits and the outside services; bench time isn't scheduled."""
    if start_on is None:
        return None
    waits = max((line.build.bill.wait_days for line in lines), default=0)
    outside = sum(check.offer.lead_days for check in services if check.offer)
    return start_on + timedelta(days=waits + outside)
