"""Will what is fitted last, and how many spares to lay out."""

import pytest

from forecasting.explosion import WearNeed
from inventory import actions
from inventory.errors import Refused
from inventory.queries.availability import stock_by_item
from inventory.queries.cutters import fitted_now, prior_of
from inventory.queries.life_book import known_life_models
from inventory.queries.wear_check import check_wear
from tests.factories import DAY, D, cutter, fitted, stock

pytestmark = pytest.mark.django_db


def check(item, job, confidence=0.95):
    need = WearNeed(item.code, D(job), D(1), "TRAIL", 10, "Mill")
    (found,) = check_wear([need], stock_by_item(DAY), confidence)
    return found


def worn(item, life, pocket="1", reason="worn"):
    fitting = fitted(item, pocket)
    actions.log_wear(fitting=fitting, amount=D(life), day=DAY)
    return actions.remove(fitting=fitting, reason=reason, day=DAY)


def test_fresh_cutter_lasts_a_short_job():
    item = cutter()
    fitted(item)
    found = check(item, 10)
    assert (found.status, found.spares_wanted, found.short) == ("will last", 0, 0)
    assert found.chance > 0.95


@pytest.mark.parametrize(("job", "words"), [(30, "may not last"), (120, "will not last")])
def test_worn_cutter_needs_a_spare_for_the_same_job(job: int, words: str):
    item = cutter()
    actions.log_wear(fitting=fitted(item), amount=D(115), day=DAY)
    found = check(item, job)
    assert (found.status, found.lasts) == (words, False)
    assert found.short == found.spares_wanted >= 1


def test_life_already_used_lowers_the_chance():
    item = cutter()
    fitting = fitted(item)
    fresh = check(item, 40).chance
    actions.log_wear(fitting=fitting, amount=D(80), day=DAY)
    assert check(item, 40).chance < fresh


def test_nothing_fitted_takes_the_first_spare_into_the_machine():
    item = cutter()
    stock(item, 1)
    found = check(item, 10)
    assert (found.status, found.spares, found.spares_wanted, found.short) == (
        "not fitted",
        1,
        1,
        0,
    )


def test_others_in_the_machine_and_in_stock_are_spares():
    item = cutter()
    stock(item, 4)
    actions.log_wear(fitting=fitted(item, "1"), amount=D(50), day=DAY)
    fitted(item, "2")
    found = check(item, 10)
    assert (found.fitted.pocket, found.used, found.spares) == ("1", 50, 3)


def test_higher_confidence_lays_out_no_fewer_spares():
    item = cutter()
    fitted(item)
    wanted = [check(item, 600, confidence).spares_wanted for confidence in (0.5, 0.9, 0.99)]
    assert wanted == sorted(wanted)
    assert wanted[0] < wanted[-1]


def test_cutter_with_a_service_level_of_its_own_gets_more_spares_than_the_shop_asks_for():
    usual, ground_to_order = cutter("MILL-6"), cutter("FORM-3", service_level=D("0.999"))
    fitted(usual, "1"), fitted(ground_to_order, "2")
    least, more = (check(item, 500).spares_wanted for item in (usual, ground_to_order))
    assert more > least
    lax = cutter("MILL-8", service_level=D("0.5"))
    fitted(lax, "3")
    assert check(lax, 500).spares_wanted == least


def test_likely_carries_a_smaller_job():
    item = cutter()
    fitted(item)
    found = check(item, 600)
    assert found.short
    assert found.likely_carry(D(5))
    assert not found.likely_carry(D(600))


def test_spare_that_only_makes_it_surer_stops_no_knife():
    item = cutter()
    actions.log_wear(fitting=fitted(item), amount=D(115), day=DAY)
    found = check(item, 30)
    assert (found.status, found.short) == ("may not last", 1)
    assert found.likely_carry(found.job)


def test_only_ends_by_wear_or_breakage_count_as_failures():
    item = cutter()
    for life, reason in [(90, "worn"), (60, "broken"), (40, "removed_early"), (30, "lost")]:
        worn(item, life, reason=reason)
    actions.log_wear(fitting=fitted(item), amount=D(20), day=DAY)
    model = known_life_models([item])[item.pk]
    assert (model.failures, model.censored) == (2, 3)


def test_new_revision_starts_a_new_record():
    item = cutter()
    worn(item, 90)
    actions.save_item(item=item, values={"revision": 2})
    assert known_life_models([item])[item.pk].failures == 0


def test_cutter_that_never_cut_tells_nothing():
    item = cutter()
    fitted(item)
    model = known_life_models([item])[item.pk]
    assert (model.failures, model.censored) == (0, 0)


def test_usual_life_is_the_shops_own_expectation():
    assert prior_of(cutter(rated_life=None, rated_shape=None)) is None
    assert prior_of(cutter("MILL-8", rated_shape=None)).shape == 2.0


def test_fitted_now_leaves_out_what_was_removed():
    item = cutter()
    worn(item, 90)
    here = fitted(item)
    assert list(fitted_now()) == [here]


def test_only_what_neither_a_life_nor_a_failure_tells_of_is_named_as_unknown():
    known, unknown = cutter(rated_life=None), cutter("MILL-9", rated_life=None)
    for life in (30, 40, 50, 60, 70):
        worn(known, life)
    needs = [WearNeed(one.code, D(5), D(1), "TRAIL", 10, "Mill") for one in (known, unknown)]
    with pytest.raises(Refused, match="^MILL-9: no usual life"):
        check_wear(needs, stock_by_item(DAY), 0.95)
