"""What is out for outside processing, when it should be back, and which services there are."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from inventory.models import Balance, Batch, Item, Offer
from inventory.queries.arrivals import current_offers
from inventory.queries.batches import (
    BatchInWork,
    LineStages,
    Stage,
    batches_with_lines,
    stages_of_batches,
)


@dataclass(frozen=True)
class Out:
    """Knives of a batch whose next stage is an outside service.

    since: day the stage before it was counted (or the batch started); common practice, no source:
    they leave that day. back_on: since + the vendor's lead time; None without an offer.
    """

    batch: Batch
    product: str
    stage: Stage
    offer: Offer | None
    since: date
    back_on: date | None

    @property
    def service(self) -> Item:
        return self.stage.operation.service

    def days_late(self, day: date) -> int:
        return max((day - self.back_on).days, 0) if self.back_on else 0


@dataclass(frozen=True)
class Ahead:
    """Knives of an open batch that still have to pass a service."""

    batch: Batch
    knives: int
    is_next: bool


@dataclass(frozen=True)
class Service:
    """An outside service with its offer, and the open batches that still need it."""

    item: Item
    offer: Offer | None
    price: Decimal | None
    ahead: list[Ahead]

    @property
    def knives(self) -> int:
        return sum(each.knives for each in self.ahead)

    @property
    def minimum(self) -> Decimal:
        return self.offer.pack_qty * self.offer.minimum_packs if self.offer else Decimal(0)

    @property
    def could_share(self) -> bool:
        """Several batches could go in one lot and share its charge and minimum."""
        return len({each.batch.pk for each in self.ahead}) > 1


def out_at_vendors(in_work: Iterable[BatchInWork], day: date) -> list[Out]:
    """Knives out now of the batches in work, the first to be back first."""
    waiting = [
        (each.batch, line)
        for each in in_work
        for line in each.lines
        if line.ahead and line.ahead.operation.service and line.ahead.arrived
    ]
    offers = current_offers(day, {line.ahead.operation.service_id for _, line in waiting})
    found = [_out(batch, line, offers) for batch, line in waiting]
    return sorted(found, key=lambda out: (out.back_on or date.max, out.batch.pk))


def services(day: date) -> list[Service]:
    """Every outside service that is sold or needed, by name."""
    items = list(Item.objects.filter(kind=Item.Kind.SERVICE).order_by("name"))
    offers = current_offers(day, [item.pk for item in items])
    ahead = _knives_ahead()
    return [
        Service(item, offers.get(item.pk), _price(offers.get(item.pk)), ahead[item.pk])
        for item in items
    ]


def stock_at_vendors() -> list[Balance]:
    """Stock that was moved to a vendor's place."""
    return list(
        Balance.objects.filter(place__supplier__isnull=False)
        .select_related("place__supplier", "item", "lot", "piece")
        .order_by("place__name", "item__code", "pk")
    )


def _out(batch: Batch, line: LineStages, offers: dict[int, Offer]) -> Out:
    stage = line.ahead
    counted = [each.count.day for each in line.stages if each.count]
    since = max(counted, default=batch.started_on)
    offer = offers.get(stage.operation.service_id)
    back = since + timedelta(days=offer.lead_days) if offer else None
    return Out(batch, line.line.product.name, stage, offer, since, back)


def _knives_ahead() -> dict[int, list[Ahead]]:
    batches = list(
        batches_with_lines()
        .filter(state__in=[Batch.State.PLANNED, Batch.State.RESERVED, Batch.State.IN_WORK])
        .order_by("start_on", "pk")
    )
    stages = stages_of_batches(batches)
    ahead: dict[int, list[Ahead]] = defaultdict(list)
    for batch in batches:
        for line in stages[batch.pk]:
            for stage in line.uncounted:
                if stage.operation.service_id and stage.arrived:
                    is_next = stage.is_next and batch.state == Batch.State.IN_WORK
                    ahead[stage.operation.service_id].append(Ahead(batch, stage.arrived, is_next))
    return ahead


def _price(offer: Offer | None) -> Decimal | None:
    """For one stock unit at the smallest quantity."""
    steps = list(offer.price_breaks.all()) if offer else []
    return steps[0].price / offer.pack_qty if steps else None
