"""Use per knife in stock units."""

import pytest

from inventory.queries.usage import usage_by_product
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_cutter_of_which_no_life_is_known_leaves_the_use_of_the_rest():
    make.shop()
    unknown = make.cutter("NEW-MILL", rated_life=None, rated_shape=None)
    screws = make.screws()
    make.simple_knife("TRAIL", make.line(screws, 2), wear=((unknown, make.D(3)),))
    used = {row.item: row.per_knife for row in usage_by_product(make.DAY)}
    assert used == {screws: 2, unknown: 0}
