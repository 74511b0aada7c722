"""Which lives answer for a cutter: unlike work, regrinds and revisions are kept apart."""

import pytest

from forecasting.explosion import WearNeed
from inventory import actions
from inventory.models import Regrind
from inventory.queries.availability import stock_by_item
from inventory.queries.cutter_lives import kind_of_cutter
from inventory.queries.life_book import LifeBook, Work
from inventory.queries.life_traits import Trait, side_by_side
from inventory.queries.wear_check import check_wear
from tests.factories import DAY, D, cutter, fitted, stock

pytestmark = pytest.mark.django_db


def lived(item, life, reason="worn", **fitting):
    one = fitted(item, "9", **fitting)
    actions.log_wear(fitting=one, amount=D(life), day=DAY)
    return actions.remove(fitting=one, reason=reason, day=DAY)


def ready_reground(item, life=100):
    """One worn out, reground and here again, not yet fitted."""
    out = actions.send_to_regrind(fitting=lived(item, life), day=DAY)
    return actions.bring_back_reground(regrind=out, day=DAY, diameter_um=9_800)


def reground_life(item, life):
    """A second life of a cutter whose first one lasted a hundred minutes."""
    again = fitted(item, "9", regrind=ready_reground(item))
    actions.log_wear(fitting=again, amount=D(life), day=DAY)
    return actions.remove(fitting=again, reason="worn", day=DAY)


def check(item, job, confidence=0.95):
    need = WearNeed(item.code, D(job), D(1), "TRAIL", 10, "Mill")
    (found,) = check_wear([need], stock_by_item(DAY), confidence)
    return found


def means(item):
    book = LifeBook([item])
    return [book.judged(item, regrinds=number).model.weibull.mean for number in (0, 1)]


def test_lives_of_reground_ones_never_move_those_of_new_ones():
    item = cutter()
    lived(item, 100)
    before = LifeBook([item]).judged(item).model.weibull.mean
    for life in (20, 25, 30):
        reground_life(item, life)
    new, reground = LifeBook([item]).judged(item), LifeBook([item]).judged(item, regrinds=1)
    assert (len(new.lives), len(reground.lives)) == (4, 3)
    assert {one.regrinds for one in new.lives} == {0}
    assert new.model.weibull.mean == pytest.approx(before, rel=0.2)
    assert reground.model.weibull.mean < 0.7 * new.model.weibull.mean


def test_reground_ones_are_expected_to_last_like_new_ones_until_they_tell_otherwise():
    item = cutter()
    for life in (90, 95, 100, 105, 110):
        lived(item, life)
    new, reground = means(item)
    assert reground == pytest.approx(new, rel=0.02)
    words = LifeBook([item]).judged(item, regrinds=1).model.words
    assert words.startswith("Reground once ones alone")
    assert "how long new ones last" in words


def test_each_number_of_regrinds_is_a_group_of_its_own_in_the_comparison():
    item = cutter()
    reground_life(item, 60)
    lived(item, 40, regrinds=2)
    lives = list(item.fittings.all())
    told = next(each for each in side_by_side(lives, 1) if each.trait == Trait.GRINDING)
    assert {group.name for group in told.split.groups} == {
        "new",
        "reground once",
        "reground 2 times",
    }


def test_work_is_compared_among_new_ones_only():
    item = cutter()
    lived(item, 100, work_material="annealed bar")
    lived(item, 50, work_material="hardened bar")
    reground_life(item, 30)
    told = {each.trait: each.split.groups for each in side_by_side(list(item.fittings.all()), 1)}
    counted = {group.name: group.failures for group in told[Trait.MATERIAL]}
    assert counted == {"annealed bar": 1, "hardened bar": 1, "not noted": 1}
    assert {group.name for group in told[Trait.GRINDING]} == {"new", "reground once"}


def test_page_of_a_kind_counts_new_ones_and_shows_reground_ones_by_themselves():
    item = cutter()
    for life in (90, 100, 110):
        reground_life(item, life / 2)
    assert len(kind_of_cutter(item).counted) == 3
    alone = kind_of_cutter(item, (Trait.GRINDING, "reground once"))
    assert sorted(one.life_used for one in alone.counted) == [45, 50, 55]
    assert alone.model.weibull.mean < kind_of_cutter(item).model.weibull.mean


def test_survival_drawing_shows_the_lives_that_are_judged_and_no_others():
    item = cutter(rated_life=None)
    for life in (20, 22, 25, 27, 30):
        lived(item, life, work_material="hardened plate")
    for life in (100, 110, 120, 130, 140):
        lived(item, life, work_material="annealed bar")
    fitted(item, "1", work_material="annealed bar")
    kind = kind_of_cutter(item)
    assert kind.model.failures == 5
    assert {one.work_material for one in kind.counted} == {"annealed bar"}
    assert kind.steps.life.min() == 100
    assert kind.steps.survival_at(99) == 1


def test_lives_at_unlike_cutting_data_are_judged_apart():
    item = cutter(rated_life=None)
    for life in (20, 22, 25, 27, 30):
        lived(item, life, cutting_data="120 m/min")
    for life in (100, 110, 120, 130, 140):
        lived(item, life, cutting_data="60 m/min")
    book = LifeBook([item])
    fast, slow = (
        book.judged(item, Work(cutting_data=data)).model for data in ("120 m/min", "60 m/min")
    )
    assert fast.weibull.mean < 30 < 100 < slow.weibull.mean
    assert slow.words.startswith("Lives in 60 m/min alone")


def test_fitted_one_that_was_reground_is_judged_by_reground_lives():
    item = cutter()
    for life in (20, 25, 30, 22, 28):
        reground_life(item, life)
    fitted(item, "1")
    new = check(item, 20).chance
    actions.remove(fitting=item.fittings.get(removed_on=None), reason="lost", day=DAY)
    fitted(item, "1", regrind=ready_reground(item))
    assert check(item, 20).chance < new - 0.1


def test_reground_one_that_is_ready_counts_as_a_spare():
    item = cutter()
    ready_reground(item)
    fitted(item)
    found = check(item, 150)
    assert (found.spares, found.reground) == (1, 1)


def test_reground_spare_counts_for_as_long_as_reground_ones_last():
    item = cutter()
    for life in (20, 25, 30, 22, 28):
        reground_life(item, life)
    fitted(item)
    alone = check(item, 150).changes_expected
    ready_reground(item)
    assert check(item, 150).changes_expected > alone + 0.2


def test_empty_pocket_takes_the_reground_one_before_the_job():
    item = cutter()
    ready_reground(item)
    found = check(item, 10)
    assert (found.status, found.spares, found.spares_wanted, found.short) == (
        "not fitted",
        1,
        1,
        0,
    )


def test_unusable_fitted_or_outdated_reground_ones_are_no_spares():
    item = cutter()
    out = actions.send_to_regrind(fitting=lived(item, 100), day=DAY)
    actions.bring_back_reground(regrind=out, day=DAY, is_usable=False)
    fitted(item, "2", regrind=ready_reground(item))
    ready_reground(item)
    assert check(item, 10).reground == 1
    actions.save_item(item=item, values={"revision": 2})
    item.refresh_from_db()
    stock(item, 1)
    assert check(item, 10).reground == 0
    assert Regrind.objects.count() == 3


def test_absurd_life_moves_no_answer_and_a_confirmed_one_does():
    item = cutter(rated_life=D(650))
    for life in (600, 650, 700):
        lived(item, life)
    before = LifeBook([item]).now(item).model.weibull.mean
    absurd = lived(item, 999_999)
    book = LifeBook([item])
    assert book.left_out == {absurd.pk}
    assert book.now(item).model.weibull.mean == before
    actions.confirm_life(fitting=absurd)
    assert LifeBook([item]).now(item).model.weibull.mean > 10 * before


def test_two_absurd_lives_do_not_hide_each_other():
    item = cutter(rated_life=D(100))
    wrong = {lived(item, life).pk for life in (9_000, 9_500)}
    lived(item, 100)
    assert LifeBook([item]).left_out == wrong


def test_stated_life_that_most_lives_exceed_is_what_is_wrong():
    item = cutter(rated_life=D(10))
    for life in (90, 100, 110):
        lived(item, life)
    assert LifeBook([item]).left_out == frozenset()


def test_longest_of_widely_spread_lives_is_believed():
    item = cutter(rated_life=D(100))
    for life in (20, 60, 250, 320):
        lived(item, life)
    assert LifeBook([item]).left_out == frozenset()
