"""Can this batch be made: what it takes, what is here and usable, what runs short, when to start."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal

from forecasting.explosion import Build, Explosion, Made, Need
from inventory.models import Batch, Item, Offer, Shop
from inventory.queries.arrivals import Arrival, arrivals_by_item, covered_on, current_offers
from inventory.queries.availability import Stock, stock_by_item
from inventory.queries.batch_needs import (
    Started,
    Wanted,
    batch_builds,
    explode_builds,
    start_builds,
)
from inventory.queries.bills import BlankSize
from inventory.queries.cautions import Caution, cautions_for
from inventory.queries.material_plan import MaterialPlan, plan_material
from inventory.queries.wear_check import WearCheck, check_wear

NOTHING = Decimal(0)


@dataclass(frozen=True)
class MaterialCheck:
    """One stocked item against the need, in its stock unit.

    need: to take. short: missing. For items kept in pieces, parts are the blanks to cut (size ->
    count), material holds the cutting plan, and short is the missing knives' full pieces.
    """

    item: Item
    need: Decimal
    stock: Stock
    short: Decimal
    parts: dict[BlankSize, int] = field(default_factory=dict)
    material: MaterialPlan | None = None
    arrivals: tuple[Arrival, ...] = ()
    covered: date | None = None
    covered_by: str = ""

    @property
    def is_short(self) -> bool:
        return self.short > 0

    @property
    def pieces_short(self) -> int:
        """Full pieces to buy for what the rack doesn't yield."""
        return self.material.to_buy if self.material else 0


@dataclass(frozen=True)
class ServiceCheck:
    """An outside service: who, how long, what the lot costs a knife at this count."""

    item: Item
    qty: int
    offer: Offer | None
    cost: Decimal
    minimum: Decimal

    @property
    def cost_each(self) -> Decimal:
        return self.cost / self.qty if self.qty else NOTHING

    @property
    def below_minimum(self) -> bool:
        return self.qty < self.minimum


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
    stock = stock_by_item(day, own_batch=batch)
    items = {item.code: item for item in Item.objects.select_related("place")}
    by_code = {code: stock[item.pk] for code, item in items.items()}
    offers = current_offers(day)
    arrivals = arrivals_by_item(day)
    builds = [line.build for line in lines]
    exploded = explode_builds(builds, by_code)

    materials = [
        _check_material(items[code], needs, stock, offers, arrivals, day, batch)
        for code, needs in sorted(_by_item(exploded.needs).items())
    ]
    wear = check_wear(exploded.wear, stock, float(shop.wear_confidence))
    made = [MadeCheck(items[part.item], part, by_code[part.item]) for part in exploded.made]
    services = [
        _check_service(items[code], needs, offers)
        for code, needs in sorted(_by_item(exploded.services).items())
    ]
    can_make, limits = _can_make(lines, materials, wear, by_code, items)
    start_on = _start_on(materials, wear, made, offers, arrivals, day)
    used = [check.item for check in (*materials, *made, *wear)]
    return BatchCheck(
        day=day,
        lines=lines,
        materials=materials,
        made=made,
        wear=wear,
        services=services,
        can_make=can_make,
        limited_by=limits,
        start_on=start_on,
        ready_on=_ready_on(start_on, lines, services),
        cautions=cautions_for(used, [line.record for line in lines]),
        exploded=exploded,
    )


def _by_item(needs: Sequence[Need]) -> dict[str, list[Need]]:
    grouped: dict[str, list[Need]] = defaultdict(list)
    for need in needs:
        grouped[need.item].append(need)
    return grouped


def _check_material(
    item: Item,
    needs: list[Need],
    stock: dict[int, Stock],
    offers: dict[int, Offer],
    arrivals: dict[int, list[Arrival]],
    day: date,
    batch: Batch | None,
) -> MaterialCheck:
    offer = offers.get(item.pk)
    parts: dict[BlankSize, int] = defaultdict(int)
    material = None
    if item.in_pieces:
        material = plan_material(item, needs, day, offer=offer, batch=batch)
        for need in needs:
            parts[need.cut] += int(need.qty)
        need_qty = sum((_size(size) * count for size, count in parts.items()), NOTHING)
        short = _pieces_missing(material, offer)
    else:
        need_qty = item.in_whole_units(sum((need.qty for need in needs), NOTHING))
        short = max(need_qty - stock[item.pk].available, NOTHING)
    found = arrivals.get(item.pk, [])
    covered, by = covered_on(short, found, offer, day) if short else (day, "")
    return MaterialCheck(
        item, need_qty, stock[item.pk], short, dict(parts), material, tuple(found), covered, by
    )


def _size(size: BlankSize) -> Decimal:
    if size.width_um:
        return Decimal(size.length_um * size.width_um).scaleb(-6)
    return Decimal(size.length_um).scaleb(-3)


def _pieces_missing(material: MaterialPlan, offer: Offer | None) -> Decimal:
    """Stock units of the full pieces to buy; of the parts themselves when nobody sells any."""
    if not material.missing:
        return NOTHING
    if material.to_buy and offer is not None:
        return offer.pack_qty / (offer.pieces_per_pack or 1) * material.to_buy
    return sum((_size(size) for size in material.blanks.values()), NOTHING) * material.missing


def _check_service(item: Item, needs: list[Need], offers: dict[int, Offer]) -> ServiceCheck:
    qty = int(sum((need.qty for need in needs), NOTHING))
    offer = offers.get(item.pk)
    if offer is None:
        return ServiceCheck(item, qty, None, NOTHING, NOTHING)
    price = NOTHING
    for step in offer.price_breaks.all():
        if step.from_packs <= qty / offer.pack_qty or not price:
            price = step.price
    minimum = offer.pack_qty * offer.minimum_packs
    cost = offer.lot_charge + price * max(Decimal(qty), minimum) / offer.pack_qty
    return ServiceCheck(item, qty, offer, cost, minimum)


def _can_make(
    lines: list[Started],
    materials: list[MaterialCheck],
    wear: list[WearCheck],
    by_code: dict[str, Stock],
    items: dict[str, Item],
) -> tuple[list[int], list[Item]]:
    """Good knives that each line yields now, in order, and the items that stop the next one."""
    counts = [0] * len(lines)
    limits: list[Item] = []
    for place, line in enumerate(lines):
        low, high = 0, line.wanted.qty
        while low < high:
            middle = (low + high + 1) // 2
            counts[place] = middle
            if _lacking(_builds(lines, counts), materials, wear, by_code, items):
                high = middle - 1
            else:
                low = middle
        counts[place] = low
        if low < line.wanted.qty:
            counts[place] = low + 1
            for item in _lacking(_builds(lines, counts), materials, wear, by_code, items):
                if item not in limits:
                    limits.append(item)
            counts[place] = low
    return counts, limits


def _builds(lines: list[Started], counts: list[int]) -> list[Build]:
    """The lines with fewer knives, the start scaled as the full one was."""
    builds = []
    for line, count in zip(lines, counts, strict=True):
        if count == 0:
            continue
        start = -(-line.build.start * count // line.wanted.qty)
        builds.append(replace(line.build, start=max(start, count), wanted=count))
    return builds


def _lacking(
    builds: list[Build],
    materials: list[MaterialCheck],
    wear: list[WearCheck],
    by_code: dict[str, Stock],
    items: dict[str, Item],
) -> list[Item]:
    """Items that don't suffice for these builds."""
    exploded = explode_builds(builds, by_code)
    needs = _by_item(exploded.needs)
    lacking = []
    for check in materials:
        wanted = needs.get(check.item.code, [])
        if wanted and not _suffices(check, wanted):
            lacking.append(check.item)
    lacking += _worn_out(exploded, wear)
    return lacking


def _suffices(check: MaterialCheck, needs: list[Need]) -> bool:
    if check.material is None:
        qty = check.item.in_whole_units(sum((need.qty for need in needs), NOTHING))
        return qty <= check.stock.available
    for need in needs:
        kit = need.owner if need.per == "knife" else f"{need.owner} per {need.per}"
        each = need.each.to_integral_value(rounding="ROUND_CEILING")
        if -(-need.qty // each) > check.material.can_make.get(kit, 0):
            return False
    return True


def _worn_out(exploded: Explosion, wear: list[WearCheck]) -> list[Item]:
    job: dict[str, Decimal] = defaultdict(Decimal)
    for need in exploded.wear:
        job[need.item] += need.life
    return [
        check.item
        for check in wear
        if check.short and job[check.item.code] and not check.enough_for(job[check.item.code])
    ]


def _start_on(
    materials: list[MaterialCheck],
    wear: list[WearCheck],
    made: list[MadeCheck],
    offers: dict[int, Offer],
    arrivals: dict[int, list[Arrival]],
    day: date,
) -> date | None:
    """First day on which everything could be here and cured."""
    days = [check.covered for check in materials if check.is_short]
    for check in wear:
        if check.short:
            found = arrivals.get(check.item.pk, [])
            offer = offers.get(check.item.pk)
            days.append(covered_on(Decimal(check.short), found, offer, day)[0])
    if None in days:
        return None
    ready = max(days, default=day)
    cure = max((check.made.wait_days for check in made if check.ahead), default=0)
    return ready + timedelta(days=cure)


def _ready_on(
    start_on: date | None, lines: list[Started], services: list[ServiceCheck]
) -> date | None:
    """After the longest chain of waits and the outside services; bench time isn't scheduled."""
    if start_on is None:
        return None
    waits = max((line.build.bill.wait_days for line in lines), default=0)
    outside = sum(check.offer.lead_days for check in services if check.offer)
    return start_on + timedelta(days=waits + outside)
