"""A reorder point as stock is counted: whole bolts, and millilitres as they are."""

import pytest

from inventory.models import Item
from inventory.queries.counted_point import counted_point


@pytest.mark.parametrize(
    ("unit", "point", "mean", "stored"),
    [
        ("each", 175.892, 82.9, (175.0, 92.1)),
        ("each", 3 - 1e-12, 1.0, (3.0, 2.0)),
        ("each", 0.009, 0.009, (0.0, 0.0)),
        ("mL", 175.892, 82.892, (175.892, 93.0)),
    ],
)
def test_order_is_due_at_the_same_stock_as_before(unit, point, mean, stored):
    found = counted_point(Item(stock_unit=unit), point, mean)
    assert tuple(found.values()) == pytest.approx(stored)
