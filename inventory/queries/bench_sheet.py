"""The batch on one sheet of paper: what to pick where, what to cut, stages, cutters, services."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from forecasting.explosion import Explosion, Made, explode
from inventory.models import Batch, Item, Lot, Offer, Piece, Shop
from inventory.queries.arrivals import current_offers
from inventory.queries.batch_needs import Started, batch_builds, needs_by_item
from inventory.queries.batch_use import made_parts_used
from inventory.queries.batches import CutDone, LineStages, cuts_of, held_for, line_stages
from inventory.queries.cautions import Caution, cautions_for
from inventory.queries.cut_plans import cuts_to_make
from inventory.queries.material_plan import MaterialPlan, plan_material
from inventory.queries.shelf import Shelf, look_at_shelf
from inventory.queries.wear_ahead import jobs_before
from inventory.queries.wear_check import WearCheck, check_wear

STATE = Batch.State
NO_PLACE = "no place named"


@dataclass(frozen=True)
class Pick:
    """One thing to fetch; qty in the item's stock unit. Lot and piece only once they are held."""

    place: str
    item: Item
    qty: Decimal
    lot: Lot | None = None
    piece: Piece | None = None


@dataclass(frozen=True)
class Sent:
    """A stage that goes out: where to, and days until it is back by the vendor's word."""

    stage: str
    service: Item
    offer: Offer | None


@dataclass(frozen=True)
class BenchSheet:
    """plans: cuts to make. cuts: cuts already booked, once the batch is in work."""

    lines: list[LineStages]
    picks: list[Pick]
    plans: list[MaterialPlan]
    cuts: list[CutDone]
    made: list[tuple[Item, Made]]
    wear: list[WearCheck]
    sent: list[Sent]
    cautions: list[Caution]


def bench_sheet(batch: Batch, day: date) -> BenchSheet:
    """The sheet of an open batch as it stands: planned, held, or in work."""
    shelf = look_at_shelf(day, batch)
    items = shelf.items
    started = batch_builds(batch)
    exploded = _exploded(batch, started, shelf)
    plans = _plans(batch, exploded, shelf)
    lines = line_stages(batch)
    confidence = float(Shop.objects.get().wear_confidence)
    wear = check_wear(exploded.wear, shelf.stock, confidence, jobs_before(batch, day))
    codes = {need.item for need in (*exploded.needs, *exploded.wear)}
    return BenchSheet(
        lines=lines,
        picks=_picks(batch, exploded, items),
        plans=plans,
        cuts=cuts_of(batch) if batch.started_on else [],
        made=[(items[part.item], part) for part in exploded.made],
        wear=wear,
        sent=_sent(lines, day),
        cautions=cautions_for([items[code] for code in codes], [line.record for line in started]),
    )


def _exploded(batch: Batch, started: list[Started], shelf: Shelf) -> Explosion:
    builds = [line.build for line in started]
    if batch.started_on:
        return explode(builds, shelf.bills, made_parts_used(batch))
    return shelf.explode(builds)


def _plans(batch: Batch, exploded: Explosion, shelf: Shelf) -> list[MaterialPlan]:
    if batch.state == STATE.RESERVED:
        return cuts_to_make(batch, exploded.needs, shelf.day)
    if batch.started_on:
        return []
    return [
        plan_material(shelf.items[code], needs, shelf.rack(shelf.items[code]), aim="remnant")
        for code, needs in sorted(needs_by_item(exploded.needs).items())
        if shelf.items[code].in_pieces
    ]


def _picks(batch: Batch, exploded: Explosion, items: dict[str, Item]) -> list[Pick]:
    if batch.state != STATE.PLANNED:
        return [
            Pick(
                held.places or NO_PLACE,
                held.reservation.item,
                held.reservation.qty,
                held.reservation.lot,
                held.reservation.piece,
            )
            for held in held_for(batch)
        ]
    totals: dict[str, Decimal] = defaultdict(Decimal)
    for need in exploded.needs:
        if not items[need.item].in_pieces:
            totals[need.item] += need.qty
    for part in exploded.made:
        totals[part.item] += part.from_stock
    picks = [
        Pick(str(items[code].place or NO_PLACE), items[code], items[code].in_whole_units(qty))
        for code, qty in totals.items()
        if qty
    ]
    return sorted(picks, key=lambda pick: (pick.place, pick.item.code))


def _sent(lines: list[LineStages], day: date) -> list[Sent]:
    offers = current_offers(
        day, Item.objects.filter(kind=Item.Kind.SERVICE).values_list("pk", flat=True)
    )
    found = {}
    for line in lines:
        for stage in line.stages:
            service = stage.operation.service
            if service:
                key = (stage.operation.name, service.pk)
                found[key] = Sent(stage.operation.name, service, offers.get(service.pk))
    return list(found.values())
