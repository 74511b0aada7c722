"""Share of use that is met from the shelf, as the stored futures of an item tell it."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from forecasting.order_quantity import packs_to_order
from forecasting.reorder_point import fill_at
from inventory.models import ItemForecast, Offer, Shop
from inventory.queries.order_limits import order_terms
from inventory.queries.reorder_list import ReorderLine


@dataclass(frozen=True)
class ExpectedFill:
    """share: of the use, met at once. order: stock units that come at a time."""

    share: float
    order: Decimal


def expected_fill(line: ReorderLine, day: date) -> ExpectedFill | None:
    """With the reorder point and the usual order of a line; None when the run kept no futures of it."""
    order = usual_order(line.forecast, line.offer, day)
    share = fill_at(line.forecast.fill_by_order, float(order))
    return None if share is None else ExpectedFill(share, order)


def usual_order(
    forecast: ItemForecast, offer: Offer | None, day: date, *, price: Decimal | None = None
) -> Decimal:
    """What would be ordered when stock is just at the reorder point; price: of a pack, tried."""
    point = Decimal(str(round(forecast.reorder_point, 6)))
    missing = Decimal(str(round(forecast.order_up_to, 6))) - point
    if offer is None:
        return missing
    terms = order_terms(offer, forecast, point, day, price=price)
    rate = float(Shop.objects.get().holding_rate)
    choice = packs_to_order(missing, forecast.use_per_week * 52, terms.pack, holding_rate=rate)
    return choice.qty or missing
