"""What planned batches take by their own choices, beside the usual mix of their products."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from forecasting.explosion import Bill
from inventory.models import Batch, BatchLine, Item
from inventory.queries.bills import known_bill
from inventory.queries.usage import ItemUsage, UseOfBills, use_of_bills, usual_bills


@dataclass(frozen=True)
class PlannedUse:
    """Stock units one planned line takes of an item above the usual mix; below 0: less."""

    item: Item
    day: date
    qty: float


def planned_use(
    day: date, use: UseOfBills | None = None, usual: Mapping[int, Bill] | None = None
) -> list[PlannedUse]:
    """Where batches still to start differ from what usage_by_product says of them.

    Each by its own revision and choices, materials as really used. Wear is left out: the steps of
    a bill wear the same in every choice. use, usual: of that day, for whoever has read them already.
    """
    lines = BatchLine.objects.filter(batch__state__in=[Batch.State.PLANNED, Batch.State.RESERVED])
    lines = list(lines.select_related("batch", "bill").prefetch_related("options"))
    if not lines:
        return []
    use = use or use_of_bills(day)
    bills = usual_bills(day) if usual is None else usual
    usually = {pk: use.of(bill, with_wear=False) for pk, bill in bills.items()}
    rows = []
    for line in lines:
        own = use.of(known_bill(line.bill, line.options.all()), with_wear=False)
        differences = _differences(own, usually.get(line.product_id, []), line.start_qty)
        rows += [PlannedUse(item, line.batch.start_on, qty) for item, qty in differences]
    return rows


def _differences(
    own: Iterable[ItemUsage], usual: Iterable[ItemUsage], knives: int
) -> Iterator[tuple[Item, float]]:
    own_of, usual_of = ({row.item: row for row in rows} for rows in (own, usual))
    for item in own_of | usual_of:
        qty = _taken(own_of.get(item), knives) - _taken(usual_of.get(item), knives)
        if qty:
            yield item, qty


def _taken(usage: ItemUsage | None, knives: int) -> float:
    return usage.per_knife * knives + usage.per_batch if usage else 0.0
