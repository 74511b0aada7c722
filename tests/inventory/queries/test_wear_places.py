"""Which of several fitted cutters a bill means, and that each counts at its own age."""

import pytest

from inventory import actions
from inventory.actions import NewWear
from inventory.queries.batch_check import check_planned_batch
from inventory.queries.cutter_outlook import outlook_of, usual_uses
from inventory.queries.wear_places import ANYWHERE, WearPlace, stations_of
from tests.factories import DAY, D, bill, cutter, fitted, in_work, machine, plan, product, step

pytestmark = pytest.mark.django_db


@pytest.fixture
def mill():
    return machine("Mill")


@pytest.fixture
def item():
    return cutter(rated_life=D(100), rated_shape=D(4))


def used(item, pocket, life):
    """One in a pocket of the mill that has been used so far."""
    one = fitted(item, pocket)
    if life:
        actions.log_wear(fitting=one, amount=D(life), day=DAY)
        one.refresh_from_db()
    return one


def shares(places, *fittings):
    return {
        frozenset(station.places): [one.pocket for one in station.fitted]
        for station in stations_of(places, fittings)
    }


def two_pockets(item, mill, roughing=6, bevels=2):
    """A knife whose roughing is done in pocket 1 and whose bevels in pocket 2."""
    knife = product()
    bill(
        knife,
        step(10, "Rough", wear=(NewWear(item, D(roughing), mill, "1"),)),
        step(20, "Bevels", wear=(NewWear(item, D(bevels), mill, "2"),)),
    )
    return knife


def test_pocket_named_by_the_bill_takes_the_one_that_is_in_it(item, mill):
    first, second = WearPlace(mill.pk, "1"), WearPlace(mill.pk, "2")
    assert shares([first, second], used(item, "1", 10), used(item, "2", 50)) == {
        frozenset([first]): ["1"],
        frozenset([second]): ["2"],
    }


def test_work_done_anywhere_takes_what_no_pocket_claims_the_most_worn_first(item, mill):
    named = WearPlace(mill.pk, "1")
    fittings = used(item, "1", 90), used(item, "2", 10), used(item, "3", 50)
    assert shares([named, ANYWHERE], *fittings) == {
        frozenset([named]): ["1"],
        frozenset([ANYWHERE]): ["3", "2"],
    }


def test_work_done_anywhere_goes_to_the_most_worn_where_each_has_its_pocket(item, mill):
    first, second = WearPlace(mill.pk, "1"), WearPlace(mill.pk, "2")
    found = shares([first, second, ANYWHERE], used(item, "1", 10), used(item, "2", 50))
    assert found == {frozenset([first]): ["1"], frozenset([second, ANYWHERE]): ["2"]}


def test_one_in_a_pocket_no_bill_names_fills_the_pocket_that_is_empty(item, mill):
    place = WearPlace(mill.pk, "1")
    assert shares([place], used(item, "9", 0)) == {frozenset([place]): ["9"]}


def test_each_pocket_is_checked_at_its_own_age_for_its_own_job(item, mill):
    used(item, "1", 5), used(item, "2", 95)
    batch = plan(two_pockets(item, mill), 5, start=5)
    (wear,) = check_planned_batch(batch, DAY).wear
    jobs = {station.first.pocket: station.job for station in wear.stations}
    assert jobs == {"1": 30, "2": 10}
    worn, fresh = wear.stations
    assert (worn.first.pocket, fresh.first.pocket) == ("2", "1")
    assert worn.chance < 0.85 < 0.95 < fresh.chance
    assert wear.chance == pytest.approx(worn.chance * fresh.chance)
    assert wear.spares == 0
    assert wear.short == wear.spares_wanted == 1


def test_two_beside_each_other_go_one_after_the_other_each_at_its_own_age(item, mill):
    knife = product()
    bill(knife, step(10, "Rough", wear=((item, D(10)),)))
    used(item, "1", 70), (second := used(item, "2", 0))
    batch = plan(knife, 8, start=8)
    (wear,) = check_planned_batch(batch, DAY).wear
    before = wear.changes_expected
    assert [one.pocket for one in wear.stations[0].fitted] == ["1", "2"]
    actions.log_wear(fitting=second, amount=D(65), day=DAY)
    (wear,) = check_planned_batch(batch, DAY).wear
    assert wear.changes_expected > before


def test_outlook_of_each_pocket_follows_its_own_batches(item, mill):
    one, other = used(item, "1", 5), used(item, "2", 95)
    batch = plan(two_pockets(item, mill), 5, start=5)
    view = outlook_of(item, DAY)
    assert [step.job for step in view.station_of(one).ahead] == [30]
    assert [step.job for step in view.station_of(other).ahead] == [10]
    assert view.station_of(other).first_doubt.batch == batch
    assert view.station_of(one).first_doubt is None
    assert view.next_batch.short == 1


def test_finished_batch_logs_on_each_pocket_what_its_operations_used(item, mill):
    one, other = used(item, "1", 0), used(item, "2", 0)
    batch = in_work(two_pockets(item, mill), 5, start=5)
    actions.log_wear(fitting=other, amount=D(4), day=DAY, batch=batch)
    actions.finish_batch(batch=batch, day=DAY)
    for fitting, life in ((one, 30), (other, 10)):
        fitting.refresh_from_db()
        assert fitting.life_used == life


def test_thumb_offers_only_what_is_done_in_that_pocket(item, mill):
    one, other = used(item, "1", 0), used(item, "2", 0)
    two_pockets(item, mill)
    assert [(use.operation, use.amount) for use in usual_uses(one)] == [("Rough", 6)]
    assert [(use.operation, use.amount) for use in usual_uses(other)] == [("Bevels", 2)]
