"""What one good knife costs in a batch of a given size: materials, wear, services, bench time."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import ceil, prod

from forecasting.explosion import Build, Explosion, explode
from forecasting.rejects import start_quantity
from inventory.models import BillOfMaterials, Item, Operation, ProductOption, Shop
from inventory.models.piece import size_in_stock_unit
from inventory.queries.bills import bill_of, bills_with_lines, made_bills
from inventory.queries.life_book import MeanLife, mean_lives
from inventory.queries.unit_costs import UnitCost, unit_costs

NOTHING = Decimal(0)


@dataclass(frozen=True)
class CostLine:
    """One item's share in a good knife.

    qty: in stock units, or in the life unit where `wears`. amount: None when no cost is known.
    """

    item: Item
    qty: Decimal
    wears: bool
    amount: Decimal | None
    known_from: str


@dataclass(frozen=True)
class StepWear:
    """Life of one item that a good knife uses in one operation, and its money.

    step: the operation; with the code of a part made in house where it belongs to that.
    """

    step: str
    item: Item
    life: Decimal
    amount: Decimal | None


@dataclass(frozen=True)
class KnifeCost:
    """Cost of a good knife of a batch: `start` are started so that `wanted` good ones finish.

    good: good ones to be expected of them, among which the cost is divided. worn: the wearing ones
    of the lines by operation.
    """

    wanted: int
    start: int
    good: Decimal
    lines: tuple[CostLine, ...]
    worn: tuple[StepWear, ...]
    minutes: Decimal
    bench: Decimal

    @property
    def total(self) -> Decimal:
        return sum((line.amount or NOTHING for line in self.lines), self.bench)

    @property
    def worn_amount(self) -> Decimal:
        return sum((wear.amount or NOTHING for wear in self.worn), NOTHING)

    @property
    def without_cost(self) -> list[Item]:
        """Items that the total can't count, because nothing tells their cost."""
        return [line.item for line in self.lines if line.amount is None]


def knife_cost(
    bill: BillOfMaterials, options: Iterable[ProductOption], wanted: int, day: date, shop: Shop
) -> KnifeCost:
    """Explode one batch and divide what it takes by the good knives to be expected.

    Scrapped knives are paid for by the good ones. Cut parts count with their allowances, not with
    kerf and waste: those depend on the pieces that lie there, and the batch check plans them.
    """
    exploded_bill = bill_of(bill, options)
    confidence = float(shop.start_confidence)
    start = start_quantity(wanted, exploded_bill.yields, confidence).start
    good = start * prod(step.good_share for step in exploded_bill.steps)
    exploded = explode([Build(exploded_bill, start, wanted)], made_bills(), {})
    lines = cost_lines(exploded, good, day)
    worn = _worn_by_step(exploded, exploded_bill.owner, good, lines)
    minutes = _minutes(bill, start, exploded) / good
    bench = minutes * shop.hour_cost / 60
    return KnifeCost(wanted, start, good, tuple(lines), worn, minutes, bench)


def cost_lines(exploded: Explosion, good: Decimal, day: date) -> list[CostLine]:
    """What was exploded, divided by the good knives; the dearest first."""
    used: dict[str, Decimal] = defaultdict(Decimal)
    for need in (*exploded.needs, *exploded.services):
        size = size_in_stock_unit(need.cut.length_um, need.cut.width_um or None) if need.cut else 1
        used[need.item] += need.qty * size
    worn: dict[str, Decimal] = defaultdict(Decimal)
    for need in exploded.wear:
        worn[need.item] += need.life
    items = Item.objects.in_bulk({*used, *worn}, field_name="code")
    costs = unit_costs(items.values(), day)
    lines = [_used(items[code], qty, good, costs.get(code)) for code, qty in used.items()]
    lasts = mean_lives(items[code] for code in worn)
    lines += [
        _worn(items[code], life, good, costs.get(code), lasts.get(items[code].pk))
        for code, life in worn.items()
    ]
    return sorted(lines, key=lambda line: (-(line.amount or NOTHING), line.item.code))


def _worn_by_step(
    exploded: Explosion, owner: str, good: Decimal, lines: Sequence[CostLine]
) -> tuple[StepWear, ...]:
    """In the order of the routing, parts made in house last."""
    by_code = {line.item.code: line for line in lines if line.wears}
    found = []
    for need in exploded.wear:
        line = by_code[need.item]
        life = need.life / good
        amount = None if line.amount is None else line.amount * life / line.qty
        step = need.step_name if need.owner == owner else f"{need.owner}: {need.step_name}"
        found.append(StepWear(step, line.item, life, amount))
    return tuple(found)


def _used(item: Item, qty: Decimal, good: Decimal, cost: UnitCost | None) -> CostLine:
    each = qty / good
    if cost is None:
        return CostLine(item, each, False, None, "")
    charge = cost.lot_charge / good if item.is_service else NOTHING
    return CostLine(item, each, False, each * cost.amount + charge, cost.known_from)


def _worn(
    item: Item, life: Decimal, good: Decimal, cost: UnitCost | None, lasts: MeanLife | None
) -> CostLine:
    each = life / good
    if cost is None or lasts is None:
        return CostLine(item, each, True, None, "")
    amount = each * cost.amount / lasts.amount
    return CostLine(item, each, True, amount, f"{cost.known_from}, {lasts.known_from}")


def _minutes(bill: BillOfMaterials, start: int, exploded: Explosion) -> Decimal:
    """Bench minutes of the whole batch, those of its made parts included."""
    total = _minutes_of(list(bill.operations.all()), start)
    started = {part.item: part.start for part in exploded.made if part.start}
    parts = bills_with_lines().filter(
        made_item__code__in=started, status=BillOfMaterials.Status.ACTIVE
    )
    return total + sum(
        (_minutes_of(list(part.operations.all()), started[part.made_item.code]) for part in parts),
        NOTHING,
    )


def _minutes_of(operations: Sequence[Operation], start: int) -> Decimal:
    total, entering = NOTHING, Decimal(start)
    for operation in operations:
        setups = ceil(entering / operation.setup_size) if operation.setup_size else 1
        total += operation.bench_minutes * entering + operation.setup_minutes * setups
        entering *= operation.good_share
    return total
