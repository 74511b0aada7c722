"""A shop whose batches can be made, and no answer remembered from the test before."""

from decimal import Decimal

import pytest
from django.core.cache import cache
from django.utils import timezone

from tests import factories as make


@pytest.fixture(autouse=True)
def nothing_remembered():
    cache.clear()


@pytest.fixture
def shop(db):
    """The factories' shop; its epoxy has expired since, so there is fresh one."""
    shop = make.knife_shop()
    make.stock(shop.epoxy, 500, timezone.localdate(), unit_cost=Decimal("0.04"))
    return shop
