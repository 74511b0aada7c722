"""What the batches ahead ask of a cutter, one after the other."""

from decimal import Decimal

import pytest

from forecasting.tool_life import survives
from inventory import actions
from inventory.models import Fitting
from inventory.queries.batch_check import check_batch, check_planned_batch
from inventory.queries.batch_needs import Wanted
from inventory.queries.cutter_outlook import outlook, outlook_of, usual_uses
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def trail():
    return make.knife_shop()


@pytest.fixture
def fitting(trail):
    return Fitting.objects.get()


def jobs(view):
    return [step.job for step in view.ahead]


def test_each_batch_finds_what_the_one_before_has_left(trail, fitting):
    actions.log_wear(fitting=fitting, amount=Decimal(10), day=make.DAY)
    first, second = (make.plan(trail.knife, wanted, start=wanted) for wanted in (4, 6))
    view = outlook_of(trail.cutter, make.DAY)
    assert [step.batch for step in view.ahead] == [first, second]
    assert jobs(view) == [20, 30]
    expected = [survives(view.model, 10, total) for total in (20, 50)]
    assert [step.chance for step in view.ahead] == pytest.approx(expected)


def test_batches_are_taken_in_the_order_of_their_start_the_one_in_work_first(trail):
    later = make.plan(trail.knife, 2, make.days(9))
    sooner = make.plan(trail.knife, 2, make.days(3))
    begun = make.in_work(trail.knife, 2, make.days(20))
    assert [step.batch for step in outlook_of(trail.cutter, make.DAY).ahead] == [
        begun,
        sooner,
        later,
    ]


def test_life_already_logged_on_a_batch_in_work_is_not_asked_for_again(trail, fitting):
    batch = make.in_work(trail.knife, 4, start=4)
    actions.log_wear(fitting=fitting, amount=Decimal(15), day=make.DAY, batch=batch)
    assert jobs(outlook_of(trail.cutter, make.DAY)) == [5]


def test_part_made_in_house_wears_only_where_it_has_to_be_made(trail):
    saw = make.cutter("SAW", life_unit="pieces")
    blank = {"cut": (120 * make.MM, 40 * make.MM)}
    cut = make.step(10, "Laminate", make.line(trail.sheet, 2, **blank), wear=((saw, Decimal(1)),))
    make.bill(trail.block, cut, day=make.DAY)
    for wanted in (8, 8):
        make.plan(trail.knife, wanted, start=wanted)
    # Twelve blocks lie there: the first batch takes 8, the second 4 and has some to make.
    made = outlook_of(saw, make.DAY).ahead
    assert len(made) == 1
    assert made[0].job >= 3


def test_most_worn_of_two_goes_first_and_the_other_is_a_spare(trail, fitting):
    other = make.fitted(trail.cutter, "2")
    actions.log_wear(fitting=other, amount=Decimal(50), day=make.DAY)
    assert [one.pk for one in outlook_of(trail.cutter, make.DAY).fitted] == [other.pk, fitting.pk]


def test_outlook_names_items_that_are_needed_but_not_fitted(trail, fitting):
    actions.remove(fitting=fitting, reason="worn", day=make.DAY)
    make.plan(trail.knife, 2)
    (view,) = outlook(make.DAY)
    assert (view.item, view.fitted, view.next_batch.spares_wanted >= 1) == (trail.cutter, (), True)


def test_usual_use_is_one_knife_of_each_active_bill(trail, fitting):
    assert [(use.owner, use.operation, use.amount) for use in usual_uses(fitting)] == [
        ("TRAIL", "Mill", 5)
    ]


def test_batch_check_gives_the_chance_of_the_list_after_the_batches_ahead(trail, fitting):
    actions.log_wear(fitting=fitting, amount=Decimal(60), day=make.DAY)
    first, second = (make.plan(trail.knife, wanted, start=wanted) for wanted in (4, 6))
    steps = outlook_of(trail.cutter, make.DAY).ahead
    for batch, step in zip((first, second), steps, strict=True):
        (wear,) = check_planned_batch(batch, make.DAY).wear
        assert wear.chance == pytest.approx(step.chance)
    assert (wear.job, wear.ahead) == (30, 20)


def test_spares_that_the_batches_ahead_will_use_are_not_free(trail):
    make.stock(trail.cutter, 1)
    asked = [Wanted(trail.knife, 20)]
    (alone,) = check_batch(asked, make.DAY).wear
    make.plan(trail.knife, 60, start=60)
    (after,) = check_batch(asked, make.DAY).wear
    assert after.ahead == 300
    assert after.spares_wanted > alone.spares_wanted
    assert after.short > alone.short


def test_batch_asked_about_does_not_wait_for_one_that_starts_later(trail):
    make.plan(trail.knife, 30, day=make.days(9), start=30)
    (wear,) = check_batch([Wanted(trail.knife, 20)], make.DAY).wear
    assert wear.ahead == 0
