"""Use per knife of every item, in stock units: cut parts as shares of real pieces, wear as cutters."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum

from forecasting.explosion import WEAR, Bill, Usage, usage_per_knife
from inventory.cutting import Rules, usable_for
from inventory.models import (
    Batch,
    BatchLine,
    BillOfMaterials,
    Item,
    Offer,
    ProductOption,
)
from inventory.queries.arrivals import current_offers
from inventory.queries.bills import BlankSize, bill_of, bills_with_lines, made_bills
from inventory.queries.cutters import known_life_models
from inventory.queries.material_plan import full_piece, part_to_cut

OPTION_MEMORY = timedelta(days=365)


@dataclass(frozen=True)
class ItemUsage:
    """Stock units of one item per knife started of a product, and per batch."""

    product: str
    item: Item
    per_knife: float
    per_batch: float


def usage_by_product(day: date) -> list[ItemUsage]:
    """Usage of every active product through its active bill, made parts and usual choices."""
    items = {item.code: item for item in Item.objects.all()}
    offers = current_offers(day)
    lives = {pk: model.weibull.mean for pk, model in known_life_models(items.values()).items()}
    made = made_bills()
    rows = []
    active = bills_with_lines().filter(status=BillOfMaterials.Status.ACTIVE, product__active=True)
    for record in active:
        bill = _bill_of_usual_choices(record, day)
        amounts: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
        for usage in usage_per_knife(bill, made):
            factor = _stock_units(usage, items[usage.item], offers, lives)
            amounts[usage.item][0] += usage.per_knife * factor
            amounts[usage.item][1] += usage.per_batch * factor
        rows += [
            ItemUsage(record.product.code, items[code], per_knife, per_batch)
            for code, (per_knife, per_batch) in sorted(amounts.items())
        ]
    return rows


def stock_units_of_part(item: Item, size: BlankSize, offer: Offer | None) -> float:
    """What one cut part costs of a full piece, waste included: the piece shared by its yield.

    Without an offer, or when a full piece yields none, the part with one kerf.
    """
    if offer is not None and offer.piece_length_um:
        part, piece = part_to_cut(item, "part", size), full_piece(item, offer)
        count = usable_for(part, piece, Rules(kerf=item.kerf_um))
        if count:
            return float(offer.pack_qty / (offer.pieces_per_pack or 1)) / count
    length = (size.length_um + item.kerf_um) / 1000
    return length * (size.width_um + item.kerf_um) / 1000 if size.width_um else length


def _stock_units(
    usage: Usage, item: Item, offers: dict[int, Offer], lives: dict[int, float]
) -> float:
    if usage.cut == WEAR:
        # Of an unknown life no cutters can be told; the batch check asks for it.
        return 1 / lives[item.pk] if item.pk in lives else 0.0
    if isinstance(usage.cut, BlankSize):
        return stock_units_of_part(item, usage.cut, offers.get(item.pk))
    return 1.0


def _bill_of_usual_choices(record: BillOfMaterials, day: date) -> Bill:
    """The bill with every line of a choice weighed by how often that choice is built."""
    shares = option_shares(record.product.options.all(), day)
    merged = bill_of(record, record.product.options.all())
    by_step = {operation.number: operation for operation in record.operations.all()}
    steps = []
    for step in merged.steps:
        lines = list(by_step[step.number].lines.all())
        weighed = tuple(
            replace(line, qty=line.qty * shares.get(stored.option_id, Decimal(1)))
            for line, stored in zip(step.lines, lines, strict=True)
            if shares.get(stored.option_id, Decimal(1))
        )
        steps.append(replace(step, lines=weighed))
    return Bill(merged.owner, tuple(steps))


def option_shares(options: Iterable[ProductOption], day: date) -> dict[int, Decimal]:
    """Share of knives built in each choice over the last year; the default alone without history."""
    by_group: dict[str, list[ProductOption]] = defaultdict(list)
    for option in options:
        by_group[option.group].append(option)
    built = dict(
        BatchLine.objects.filter(batch__started_on__gte=day - OPTION_MEMORY)
        .exclude(batch__state=Batch.State.CANCELLED)
        .order_by()
        .values_list("options")
        .annotate(Sum("start_qty"))
    )
    shares: dict[int, Decimal] = {}
    for group in by_group.values():
        total = sum(built.get(option.pk, 0) for option in group)
        for option in group:
            if total:
                shares[option.pk] = Decimal(built.get(option.pk, 0)) / total
            else:
                shares[option.pk] = Decimal(option == _default(group))
    return shares


def _default(group: list[ProductOption]) -> ProductOption:
    return next((option for option in group if option.is_default), group[0])
