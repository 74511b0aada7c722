"""The reorder point of what is counted in pieces: the whole number that stock is compared with."""

import math

from inventory.models import Item

ALMOST = 1e-9
"""So that a whole number that was worked out stays itself."""


def counted_point(item: Item, reorder_point: float, mean: float) -> dict[str, float]:
    """reorder_point and safety_stock to be stored; mean: use until the delivery after the next look.

    One bolt is at or below 175.9 exactly when it is at or below 175.
    """
    if item.stock_unit == Item.Unit.EACH:
        reorder_point = float(math.floor(reorder_point + ALMOST))
    return {"reorder_point": reorder_point, "safety_stock": max(reorder_point - mean, 0.0)}
