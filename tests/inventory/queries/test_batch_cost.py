"""What a finished batch cost."""

import pytest

from inventory import actions
from inventory.models import Shop
from inventory.queries.batch_cost import batch_cost
from inventory.queries.batches import line_stages, taken_by, wear_of
from inventory.queries.knife_cost import knife_cost
from inventory.queries.life_book import known_life_models
from inventory.queries.products import active_bill
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


def test_life_learned_here_goes_before_the_usual_one_and_is_that_of_the_forecast():
    mill = make.cutter(rated_life=make.D(1200))
    batch = finished(mill)
    for life in (90, 100, 110):
        one = make.fitted(mill, "9")
        actions.log_wear(fitting=one, amount=make.D(life), day=make.DAY)
        actions.remove(fitting=one, reason="worn", day=make.DAY)
    mean = known_life_models([mill])[mill.pk].weibull.mean
    assert mean < 600
    assert float(cost_of(batch).cutters) == pytest.approx(4 * 5 * 24 / mean)
    line = knife_cost(active_bill(batch.lines.get().product), (), 4, make.DAY, Shop.objects.get())
    (worn,) = [each for each in line.lines if each.wears]
    assert float(worn.amount) == pytest.approx(5 * 24 / mean)
    assert "mean life, learned from 3 lives" in worn.known_from
