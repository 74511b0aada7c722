"""What a finished batch cost."""

import pytest

from inventory import actions
from inventory.models import Shop
from inventory.queries.batch_cost import batch_cost
from inventory.queries.batches import line_stages, taken_by, wear_of
from tests import factories as make

pytestmark = pytest.mark.django_db


def finished(mill):
    make.shop()
    make.stock(mill, 2, unit_cost=make.D(24))
    make.fitted(mill, "4")
    batch = make.in_work(make.simple_knife(wear=((mill, make.D(5)),)), 4)
    return actions.finish_batch(batch=batch, day=make.DAY)


def cost_of(batch):
    return batch_cost(
        batch, line_stages(batch), taken_by(batch), wear_of(batch), Shop.objects.get()
    )


def test_life_used_costs_its_share_of_a_new_cutter():
    cost = cost_of(finished(make.cutter(rated_life=make.D(120))))
    assert (cost.cutters, cost.unknown) == (4 * 5 * 24 / make.D(120), ())


def test_cutter_without_a_usual_life_is_named_as_not_in_the_cost():
    mill = make.cutter(rated_life=None)
    cost = cost_of(finished(mill))
    assert (cost.cutters, cost.unknown) == (0, (mill,))
