"""Use per knife of every item, in stock units: cut parts as shares of real pieces, wear as cutters."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum

from forecasting.explosion import Bill, Usage, Worn, usage_per_knife
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
from inventory.queries.life_book import known_life_models
from inventory.queries.part_share import stock_units_of_part
from inventory.queries.real_use import AS_THE_BILL, LearnedUse, learned_by_item
from inventory.queries.wear_places import WearPlace

OPTION_MEMORY = timedelta(days=365)


@dataclass(frozen=True)
class ItemUsage:
    """Stock units of one item per knife started of a product, and per batch, as really used.

    place: where the one that wears is fitted; None for anything else.
    """

    product: str
    item: Item
    per_knife: float
    per_batch: float
    learned: LearnedUse = AS_THE_BILL
    place: WearPlace | None = None


@dataclass(frozen=True)
class UseOfBills:
    """What turns a bill into stock units really used; items and made parts by code, else by id."""

    items: Mapping[str, Item]
    offers: Mapping[int, Offer]
    lives: Mapping[int, float]
    made: Mapping[str, Bill]
    learned: Mapping[int, LearnedUse]

    def of(self, bill: Bill, *, with_wear: bool = True) -> list[ItemUsage]:
        """Use by a product's bill, a row for each item, and each place where one wears."""
        amounts: dict[tuple[str, WearPlace | None], list[float]] = defaultdict(lambda: [0.0, 0.0])
        for usage in usage_per_knife(bill, self.made):
            wears = isinstance(usage.cut, Worn)
            if with_wear or not wears:
                factor = self._stock_units(usage, self.items[usage.item])
                amount = amounts[usage.item, usage.cut.place if wears else None]
                amount[0] += usage.per_knife * factor
                amount[1] += usage.per_batch * factor
        return [
            self._as_used(bill.owner, self.items[code], place, amount)
            for (code, place), amount in sorted(amounts.items(), key=lambda row: row[0][0])
        ]

    def _stock_units(self, usage: Usage, item: Item) -> float:
        if isinstance(usage.cut, Worn):
            # Of an unknown life no cutters can be told; the batch check asks for it.
            return 1 / self.lives[item.pk] if item.pk in self.lives else 0.0
        if isinstance(usage.cut, BlankSize):
            return stock_units_of_part(item, usage.cut, self.offers.get(item.pk))
        return 1.0

    def _as_used(
        self, product: str, item: Item, place: WearPlace | None, by_bill: Sequence[float]
    ) -> ItemUsage:
        real = self.learned.get(item.pk, AS_THE_BILL)
        per_knife, per_batch = (amount * real.factor for amount in by_bill)
        return ItemUsage(product, item, per_knife, per_batch, real, place)


def usage_by_product(day: date, use: UseOfBills | None = None) -> list[ItemUsage]:
    """Usage of every active product through its active bill, made parts and usual choices.

    Materials as the last batches really took them, see inventory.queries.real_use. use: of that
    day, for whoever has read it already.
    """
    use = use or use_of_bills(day)
    return [row for bill in usual_bills(day).values() for row in use.of(bill)]


def use_of_bills(day: date, learned: Mapping[int, LearnedUse] | None = None) -> UseOfBills:
    """The records of that day that turn a bill into use; learned: when it is known already."""
    learned = learned_by_item(day) if learned is None else learned
    items = {item.code: item for item in Item.objects.all()}
    lives = {pk: model.weibull.mean for pk, model in known_life_models(items.values()).items()}
    return UseOfBills(items, current_offers(day), lives, made_bills(), learned)


def usual_bills(day: date) -> dict[int, Bill]:
    """Active bill of every active product by its id, in the usual mix of its choices."""
    active = bills_with_lines().filter(status=BillOfMaterials.Status.ACTIVE, product__active=True)
    return {record.product_id: _bill_of_usual_choices(record, day) for record in active}


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
