"""A cutter sent out to be reground comes back as the same one, with a new life."""

import pytest

from inventory import actions
from inventory.errors import Refused, WrongState
from inventory.models import Fitting, Regrind
from inventory.queries import cutter_lives, regrinds
from inventory.queries.audit import audit
from tests.factories import DAY, MM, D, cutter, days, fitted, machine, on_hand, stock, vendor

pytestmark = pytest.mark.django_db


def taken_out(reason="worn", life=100, **values):
    fitting = fitted(cutter(**values), "4", work_material="annealed bar")
    actions.log_wear(fitting=fitting, amount=D(life), day=DAY)
    return actions.remove(fitting=fitting, reason=reason, day=days(1))


def back(fitting, diameter_um=5900, **values):
    regrind = actions.send_to_regrind(fitting=fitting, day=days(2), vendor=vendor())
    return actions.bring_back_reground(
        regrind=regrind, day=days(9), diameter_um=diameter_um, **values
    )


def test_reground_cutter_is_the_same_one_with_a_new_life_and_nothing_leaves_stock():
    old = taken_out()
    stock(old.item, 2)
    new = fitted(old.item, "5", days(10), regrind=back(old))
    assert (new.label, new.regrinds, new.diameter_um) == ("T-0001-R1", 1, 5900)
    assert (new.life_used, new.lot, on_hand(old.item)) == (0, old.lot, 2)
    assert new.ground.fitting == old
    assert audit() == []


def test_each_regrind_has_a_life_record_of_its_own():
    first = taken_out(life=100)
    second = fitted(first.item, "4", days(10), regrind=back(first))
    actions.log_wear(fitting=second, amount=D(70), day=days(10))
    second = actions.remove(fitting=second, reason="worn", day=days(11))
    regrind = actions.send_to_regrind(fitting=second, day=days(12))
    again = actions.bring_back_reground(regrind=regrind, day=days(13), diameter_um=5800)
    third = fitted(first.item, "4", days(14), regrind=again)
    assert (third.label, third.regrinds) == ("T-0001-R2", 2)
    lives = [(one.label, one.life_used) for one in cutter_lives.lives_of(first.item)]
    assert lives == [("T-0001-R2", 0), ("T-0001-R1", 70), ("T-0001", 100)]


def test_reground_cutter_set_aside_stays_a_reground_one():
    old = taken_out()
    new = fitted(old.item, "5", days(10), regrind=back(old))
    aside = actions.remove(fitting=new, reason="removed_early", day=days(11))
    on = fitted(old.item, "6", days(12), continues=aside)
    assert (on.regrinds, on.diameter_um) == (1, 5900)


def test_cutter_at_its_last_regrind_is_not_sent_again():
    old = taken_out(most_regrinds=1)
    new = fitted(old.item, "5", days(10), regrind=back(old))
    new = actions.remove(fitting=new, reason="worn", day=days(11))
    with pytest.raises(Refused, match="was reground 1 times, and MILL-6 takes 1"):
        actions.send_to_regrind(fitting=new, day=days(12))


def test_cutter_ground_under_size_is_not_taken_back_as_usable():
    old = taken_out(smallest_diameter_um=5_850)
    regrind = actions.send_to_regrind(fitting=old, day=days(2))
    with pytest.raises(Refused, match=r"measures 5\.8 mm; MILL-6 is used down to 5\.85 mm"):
        actions.bring_back_reground(regrind=regrind, day=days(3), diameter_um=5_800)
    with pytest.raises(Refused, match="measure its diameter"):
        actions.bring_back_reground(regrind=regrind, day=days(3))
    actions.bring_back_reground(regrind=regrind, day=days(3), diameter_um=5_800, is_usable=False)
    assert not regrinds.back_from_regrind().exists()


def test_cutter_that_came_back_unusable_is_not_fitted():
    old = taken_out()
    with pytest.raises(WrongState, match="T-0001 isn't here reground and unused"):
        fitted(old.item, "5", days(10), regrind=back(old, is_usable=False))
    assert Fitting.objects.count() == 1


def test_reground_cutter_is_fitted_once_and_as_what_it_is():
    old = taken_out()
    regrind = back(old)
    with pytest.raises(Refused, match="T-0001 is a MILL-6, not a MILL-10"):
        fitted(cutter("MILL-10"), "5", days(10), regrind=regrind)
    with pytest.raises(Refused, match="came back on 12 Mar 2025"):
        fitted(old.item, "5", days(8), regrind=regrind)
    fitted(old.item, "5", days(10), regrind=regrind)
    with pytest.raises(WrongState, match="isn't here reground"):
        fitted(old.item, "6", days(10), regrind=Regrind.objects.get())


def test_cutter_in_the_machine_or_lost_is_not_sent():
    fitting = fitted(cutter())
    with pytest.raises(WrongState, match="is in Mill 1"):
        actions.send_to_regrind(fitting=fitting, day=DAY)
    lost = actions.remove(fitting=fitting, reason="lost", day=DAY)
    with pytest.raises(WrongState, match="is lost"):
        actions.send_to_regrind(fitting=lost, day=DAY)


def test_cutter_is_sent_out_once_and_comes_back_once():
    old = taken_out("removed_early")
    regrind = back(old)
    with pytest.raises(WrongState, match="went out on 5 Mar 2025"):
        actions.send_to_regrind(fitting=old, day=days(9))
    with pytest.raises(WrongState, match="came back on 12 Mar 2025"):
        actions.bring_back_reground(regrind=regrind, day=days(10), diameter_um=6 * MM)


def test_cutter_sent_out_does_not_go_on_as_one_set_aside():
    old = taken_out("removed_early")
    actions.send_to_regrind(fitting=old, day=days(2))
    old = Fitting.objects.get()
    assert not cutter_lives.set_aside().exists()
    with pytest.raises(WrongState, match="can't go on"):
        fitted(old.item, "5", days(3), continues=old)


def test_cutter_goes_out_after_it_was_taken_out_and_comes_back_after_it_went():
    old = taken_out()
    with pytest.raises(Refused, match="was taken out on 4 Mar 2025"):
        actions.send_to_regrind(fitting=old, day=DAY)
    regrind = actions.send_to_regrind(fitting=old, day=days(2))
    with pytest.raises(Refused, match="went out on 5 Mar 2025"):
        actions.bring_back_reground(regrind=regrind, day=days(1), diameter_um=5900)


def test_next_one_to_go_in_may_be_a_reground_one_and_nothing_leaves_stock():
    ground = back(taken_out(most_regrinds=2))
    item = ground.fitting.item
    stock(item, 2)
    worn = actions.fit(item=item, machine=machine(), pocket="4", day=days(9))
    new = actions.swap(fitting=worn, reason="broken", day=days(10), regrind=ground)
    assert (new.label, new.regrinds, new.diameter_um) == ("T-0001-R1", 1, 5900)
    assert on_hand(item) == 1
    assert audit() == []


def test_next_one_to_go_in_may_be_one_set_aside_and_goes_on_where_it_stopped():
    aside = taken_out(reason="removed_early", life=40)
    worn = fitted(aside.item, "4", day=days(2))
    new = actions.swap(fitting=worn, reason="worn", day=days(3), continues=aside)
    assert (new.life_used, new.continues) == (40, aside)


def test_swap_for_a_reground_one_that_is_not_here_leaves_the_old_one_in():
    ground = back(taken_out(), is_usable=False)
    worn = fitted(ground.fitting.item, "4", day=days(9))
    with pytest.raises(WrongState, match="isn't here reground and unused"):
        actions.swap(fitting=worn, reason="worn", day=days(10), regrind=ground)
    worn.refresh_from_db()
    assert worn.is_fitted


def test_one_bought_with_more_regrinds_than_the_item_takes_is_not_fitted():
    item = cutter(most_regrinds=2)
    with pytest.raises(Refused, match="MILL-6 takes 2 regrinds, and this one had 3"):
        fitted(item, regrinds=3)
    assert not Fitting.objects.exists()
    assert fitted(item, regrinds=2).regrinds == 2


@pytest.mark.parametrize("diameter_um", [5_000_000, 6_100, 0])
def test_cutter_that_grew_by_grinding_is_measured_again(diameter_um):
    one = taken_out(diameter_um=6_000)
    sent = actions.send_to_regrind(fitting=one, day=days(2))
    with pytest.raises(Refused, match="Measure it again"):
        actions.bring_back_reground(regrind=sent, day=days(2), diameter_um=diameter_um)


def test_label_of_a_reground_one_counts_its_regrinds_once():
    one = fitted(cutter(), label="T-0002-R1", regrinds=7)
    actions.remove(fitting=one, reason="worn", day=DAY)
    again = actions.fit(
        item=one.item, machine=one.machine, pocket="1", day=days(20), regrind=back(one)
    )
    assert again.label == "T-0002-R8"


def test_more_regrinds_than_any_cutter_takes_are_refused():
    with pytest.raises(Refused, match="40000 regrinds can't be"):
        fitted(cutter(), regrinds=40_000)
