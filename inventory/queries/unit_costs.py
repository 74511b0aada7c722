"""What one stock unit of an item costs: by what lies there, by the last delivery, or by offer."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

from inventory.days import show_day
from inventory.models import Balance, Item, Lot, Offer


@dataclass(frozen=True)
class UnitCost:
    """Cost of one stock unit, where it is known from, and what an order line costs on top."""

    amount: Decimal
    known_from: str
    lot_charge: Decimal = Decimal(0)


def unit_costs(items: Iterable[Item], day: date) -> dict[str, UnitCost]:
    """Cost by item code, in three queries; items that nothing tells a cost of are left out.

    The average of the stock on hand comes first, then the last delivery, then the preferred offer.
    Lots of unknown cost are passed over.
    """
    wanted = {item.pk: item.code for item in items}
    offers = _offers(wanted, day)
    return offers | _last_deliveries(wanted) | _on_hand(wanted)


def _on_hand(wanted: dict[int, str]) -> dict[str, UnitCost]:
    amounts: dict[int, Decimal] = {}
    values: dict[int, Decimal] = {}
    there = Balance.objects.filter(item__in=wanted, lot__unit_cost__gt=0)
    for item, qty, cost in there.values_list("item", "qty", "lot__unit_cost"):
        amounts[item] = amounts.get(item, Decimal(0)) + qty
        values[item] = values.get(item, Decimal(0)) + qty * cost
    return {
        wanted[item]: UnitCost(values[item] / amounts[item], "average on hand") for item in amounts
    }


def _last_deliveries(wanted: dict[int, str]) -> dict[str, UnitCost]:
    lots = Lot.objects.filter(item__in=wanted, unit_cost__gt=0).order_by("received_on", "pk")
    return {
        wanted[item]: UnitCost(cost, f"delivery of {show_day(day)}")
        for item, cost, day in lots.values_list("item", "unit_cost", "received_on")
    }


def _offers(wanted: dict[int, str], day: date) -> dict[str, UnitCost]:
    current = Offer.objects.filter(
        Q(valid_to__isnull=True) | Q(valid_to__gte=day), item__in=wanted, valid_from__lte=day
    )
    costs = {}
    for offer in current.prefetch_related("price_breaks").order_by("preferred", "-valid_from"):
        steps = list(offer.price_breaks.all())
        if steps:
            cost = steps[0].price / offer.pack_qty
            costs[wanted[offer.item_id]] = UnitCost(cost, "offer", offer.lot_charge)
    return costs
