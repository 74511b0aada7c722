"""What a change of a cutter costs, made in time and after a failure, and when it pays to change."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet

from forecasting.explosion import Bill, Build, explode
from forecasting.replacement_age import weibull_cost_curve
from forecasting.tool_life import ChangePolicy, LifeModel, change_policy
from inventory.models import BillOfMaterials, Item, Shop, WearLine
from inventory.queries.bills import default_options, known_bill, made_bills
from inventory.queries.knife_cost import cost_lines
from inventory.queries.unit_costs import unit_costs

CHANGE_MINUTES = Decimal(10)
"""Bench time to change a cutter and set its offset: common practice, no source."""
KNIVES = 10
"""Of a batch that the cost of a spoilt knife is taken from."""


@dataclass(frozen=True)
class ChangeCosts:
    """Money for one change; the parts that were worked out are None where the item states the sum.

    price: of one cutter. bench: of the time. spoilt: of the knife in the machine at a failure.
    """

    planned: Decimal
    failure: Decimal
    price: Decimal | None
    bench: Decimal | None
    spoilt: Decimal | None


@dataclass(frozen=True)
class ChangeTime:
    """When to change, and the money per unit of life by age of change."""

    policy: ChangePolicy
    curve: list[tuple[float, float]]


def change_costs(item: Item, day: date, shop: Shop) -> ChangeCosts | None:
    """As the item states them; else price, bench time and a spoilt knife. None without a price."""
    known = unit_costs([item], day).get(item.code)
    price = None if known is None else known.amount
    bench = CHANGE_MINUTES * shop.hour_cost / 60
    worked_out = None if price is None else price + bench
    planned = item.change_cost or worked_out
    if not planned:
        return None
    spoilt = None if item.failure_cost else spoilt_knife(item, day)
    return ChangeCosts(
        planned=planned,
        failure=item.failure_cost or planned + spoilt,
        price=None if item.change_cost else price,
        bench=None if item.change_cost else bench,
        spoilt=spoilt,
    )


def spoilt_knife(item: Item, day: date) -> Decimal:
    """Material in a knife up to the operation that uses the item; 0 if no cost of it is known.

    The average over all products that use it.
    """
    lines = WearLine.objects.filter(item=item, operation__bill__status="active")
    steps = dict(lines.values_list("operation__bill", "operation__number"))
    builds = [
        Build(_begun(bill, steps[bill.pk]), KNIVES, KNIVES) for bill in _bills_of_products(steps)
    ]
    if not builds:
        return Decimal(0)
    exploded = explode(builds, made_bills(), {})
    spoilt = cost_lines(exploded, Decimal(KNIVES * len(builds)), day)
    return sum((line.amount for line in spoilt if line.amount and not line.wears), Decimal(0))


def change_time(model: LifeModel, planned: float, failure: float) -> ChangeTime:
    """When to change at these costs, and the curve that tells it."""
    ages, rates = weibull_cost_curve(model.weibull, planned, failure)
    curve = [(float(age), float(rate)) for age, rate in zip(ages, rates, strict=True)]
    return ChangeTime(change_policy(model, planned, failure), curve)


def _bills_of_products(ids: Iterable[int]) -> QuerySet[BillOfMaterials]:
    bills = BillOfMaterials.objects.filter(pk__in=ids, product__isnull=False)
    return bills.select_related("product").prefetch_related("product__options")


def _begun(record: BillOfMaterials, number: int) -> Bill:
    """The bill up to an operation, in the usual choices."""
    bill = known_bill(record, default_options(record.product.options.all()))
    return Bill(bill.owner, tuple(step for step in bill.steps if step.number <= number))
