"""What a finished batch cost: material as booked, cutter life, outside services and bench time."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from inventory.models import Batch, Item, Shop, WearLog
from inventory.queries.batches import LineStages, Taken
from inventory.queries.life_book import MeanLife, mean_lives
from inventory.queries.unit_costs import UnitCost, unit_costs

NOTHING = Decimal(0)


@dataclass(frozen=True)
class BatchCost:
    """Amounts in the shop's currency for the whole batch; good: knives it is divided by.

    material: what was booked, at what its lots cost. cutters: life used at the cost of a new one
    over its mean life. services: knives that went out at the price then, lot charge once a
    service. bench: minutes of the bill for the knives that reached each stage. unknown: items that
    nothing tells a cost of.
    """

    material: Decimal
    cutters: Decimal
    services: Decimal
    bench: Decimal
    good: int
    unknown: tuple[Item, ...]

    @property
    def total(self) -> Decimal:
        return self.material + self.cutters + self.services + self.bench

    @property
    def each(self) -> Decimal:
        return self.total / self.good


def batch_cost(
    batch: Batch,
    lines: Sequence[LineStages],
    taken: Iterable[Taken],
    wear: Sequence[WearLog],
    shop: Shop,
) -> BatchCost | None:
    """Cost of a finished batch; None when no good knife came of it."""
    good = sum(line.good for line in lines)
    if not good:
        return None
    sent = [stage for line in lines for stage in line.stages if stage.operation.service]
    services = {stage.operation.service for stage in sent}
    worn = {log.fitting.item for log in wear}
    costs = unit_costs([*services, *worn], batch.finished_on)
    lasts = mean_lives(worn)
    return BatchCost(
        material=sum((each.cost for each in taken), NOTHING),
        cutters=sum((_life_cost(log, costs, lasts) for log in wear), NOTHING),
        services=sum(
            (
                costs[stage.operation.service.code].amount * stage.arrived
                for stage in sent
                if stage.operation.service.code in costs
            ),
            sum((costs[each.code].lot_charge for each in services if each.code in costs), NOTHING),
        ),
        bench=_minutes(lines) * shop.hour_cost / 60,
        good=good,
        unknown=tuple(
            sorted(
                (each for each in {*services, *worn} if _is_unknown(each, costs, lasts)),
                key=lambda item: item.code,
            )
        ),
    )


def _life_cost(log: WearLog, costs: dict[str, UnitCost], lasts: dict[int, MeanLife]) -> Decimal:
    item = log.fitting.item
    if _is_unknown(item, costs, lasts):
        return NOTHING
    return log.amount * costs[item.code].amount / lasts[item.pk].amount


def _is_unknown(item: Item, costs: dict[str, UnitCost], lasts: dict[int, MeanLife]) -> bool:
    """No price, or no life to divide it by."""
    return item.code not in costs or (item.wears and item.pk not in lasts)


def _minutes(lines: Iterable[LineStages]) -> Decimal:
    total = NOTHING
    for line in lines:
        for stage in line.stages:
            operation, knives = stage.operation, stage.arrived
            if not knives:
                continue
            setups = ceil(knives / operation.setup_size) if operation.setup_size else 1
            total += operation.bench_minutes * knives + operation.setup_minutes * setups
    return total
