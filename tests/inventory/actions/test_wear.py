"""Cutters from the day they are fitted until they are removed."""

import pytest

from inventory import actions
from inventory.actions import NewWear
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import Fitting, Posting
from inventory.queries.audit import audit
from inventory.queries.life_book import known_life_models
from tests.factories import (
    DAY,
    D,
    cutter,
    days,
    fitted,
    machine,
    on_hand,
    screws,
    simple_knife,
    stock,
)

pytestmark = pytest.mark.django_db


def log(fitting, amount, day=DAY):
    return actions.log_wear(fitting=fitting, amount=D(amount), day=day)


def remove(fitting, reason="worn", day=DAY):
    return actions.remove(fitting=fitting, reason=reason, day=day)


def test_fitted_cutter_leaves_stock_in_the_name_of_who_fitted_it(maker):
    item = cutter()
    lot = stock(item, 3)
    new = actions.fit(item=item, machine=machine(), pocket="4", day=DAY, by=maker)
    assert (new.label, new.lot, new.life_used, on_hand(item)) == ("T-0001", lot, 0, 2)
    assert Posting.objects.get(kind="issue").by == maker


def test_pocket_holds_one():
    item = cutter()
    fitted(item, "4")
    with pytest.raises(WrongState, match=r"Mill 4 holds T-0001 \(MILL-6\). Remove that one first"):
        fitted(item, "4")


def test_cutter_that_is_not_in_stock_is_not_fitted():
    with pytest.raises(NotEnough, match="1 asked for, 0 free"):
        actions.fit(item=cutter(), machine=machine(), pocket="4", day=DAY)
    assert not Fitting.objects.exists()


@pytest.mark.parametrize(
    ("make", "pocket", "day", "words"),
    [
        (screws, "4", DAY, "has no life of its own"),
        (cutter, "", DAY, "name the pocket"),
        (cutter, "4", days(36500), "in the future"),
    ],
    ids=["screw", "no pocket", "future"],
)
def test_fitting_that_can_not_be_is_refused(make, pocket, day, words):
    item = make()
    stock(item, 3)
    with pytest.raises(Refused, match=words):
        actions.fit(item=item, machine=machine(), pocket=pocket, day=day)
    assert on_hand(item) == 3


def test_label_that_is_taken_is_refused():
    item = cutter()
    fitted(item, "4", label="RED")
    with pytest.raises(Refused, match="The label RED is taken"):
        fitted(item, "5", label="RED")


def test_life_adds_up_and_a_wrong_entry_is_taken_back():
    fitting = fitted(cutter())
    log(fitting, 30)
    wrong = log(fitting, 900)
    actions.reverse_wear(log=wrong, day=DAY)
    fitting.refresh_from_db()
    assert fitting.life_used == 30
    assert [entry.amount for entry in fitting.logs.order_by("pk")] == [30, 900, -900]
    with pytest.raises(WrongState, match="was taken back before"):
        actions.reverse_wear(log=wrong, day=DAY)
    assert audit() == []


def test_entry_that_takes_back_is_not_taken_back():
    back = actions.reverse_wear(log=log(fitted(cutter()), 30), day=DAY)
    with pytest.raises(WrongState, match="was taken back before"):
        actions.reverse_wear(log=back, day=DAY)


@pytest.mark.parametrize(
    ("amount", "day", "words"),
    [
        ("0", DAY, "above zero"),
        ("-3", DAY, "above zero"),
        ("3", days(-1), "was fitted on 3 Mar 2025"),
        ("3", days(36500), "in the future"),
    ],
    ids=["nothing", "negative", "before it was fitted", "future"],
)
def test_wear_that_can_not_be_is_refused(amount, day, words):
    fitting = fitted(cutter())
    with pytest.raises(Refused, match=words):
        log(fitting, amount, day)
    assert not fitting.logs.exists()


def test_removed_cutter_wears_no_more_even_from_a_stale_page():
    fitting = fitted(cutter())
    copy = Fitting.objects.get()
    remove(fitting)
    with pytest.raises(WrongState, match=r"was removed on 3 Mar 2025 \(worn\)"):
        log(copy, 3)
    with pytest.raises(WrongState, match="was removed"):
        actions.read_wear(fitting=copy, vb_um=100, day=DAY)
    with pytest.raises(WrongState, match="was removed"):
        remove(copy, "broken")


def test_removal_says_why():
    with pytest.raises(Refused, match="worn, broken, removed early, lost"):
        remove(fitted(cutter()), "tired")


def test_reading_is_kept_at_the_life_used_so_far_falling_ones_too():
    fitting = fitted(cutter())
    copy = Fitting.objects.get()
    log(fitting, 30)
    assert actions.read_wear(fitting=copy, vb_um=290, day=DAY).life_at == 30
    assert actions.read_wear(fitting=fitting, vb_um=280, day=DAY).vb_um == 280


@pytest.mark.parametrize("vb_um", [-1, 5001])
def test_wear_land_that_can_not_be_is_refused(vb_um):
    with pytest.raises(Refused, match="Enter 0 to 5000"):
        actions.read_wear(fitting=fitted(cutter()), vb_um=vb_um, day=DAY)


def test_what_no_loupe_can_measure_is_noted_by_eye():
    belt = fitted(cutter("BELT"))
    assert actions.read_wear(fitting=belt, level="half", day=DAY).get_level_display() == "half worn"


@pytest.mark.parametrize(
    "reading",
    [{}, {"vb_um": 100, "level": "half"}, {"level": "tired"}],
    ids=["neither", "both", "no such level"],
)
def test_reading_is_either_measured_or_seen(reading):
    fitting = fitted(cutter())
    with pytest.raises(Refused, match="as new, half worn, worn"):
        actions.read_wear(fitting=fitting, day=DAY, **reading)
    assert not fitting.readings.exists()


def test_entry_in_the_wrong_pocket_moves_to_the_cutter_that_did_the_work():
    wrong, right = fitted(cutter(), "1"), fitted(cutter("MILL-10"), "2")
    log(wrong, 30)
    moved = actions.move_wear(log=log(wrong, 900), to=right, day=days(3))
    wrong.refresh_from_db()
    right.refresh_from_db()
    assert (wrong.life_used, right.life_used, moved.day) == (30, 900, DAY)
    assert audit() == []


def test_change_that_was_not_logged_is_put_right_afterwards():
    old = fitted(cutter(), "4")
    stock(old.item, 1)
    log(old, 110, days(2))
    late = log(old, 60, days(20))
    new = actions.swap(fitting=old, reason="worn", day=days(10))
    actions.move_wear(log=late, to=new, day=days(21))
    lives = [(life.label, life.life_used) for life in Fitting.objects.order_by("pk")]
    assert lives == [("T-0001", 110), ("T-0002", 60)]
    assert audit() == []


def test_entry_in_minutes_does_not_move_to_a_cutter_that_counts_holes():
    entry = log(fitted(cutter(), "1"), 30)
    drill = fitted(cutter("DRILL", life_unit="pieces"), "2")
    with pytest.raises(Refused, match="T-0002 doesn't take an entry in min of T-0001"):
        actions.move_wear(log=entry, to=drill, day=DAY)
    entry.fitting.refresh_from_db()
    assert entry.fitting.life_used == 30


def test_entry_is_not_moved_to_a_day_before_the_other_was_fitted():
    entry = log(fitted(cutter(), "1"), 30)
    late = fitted(cutter("MILL-10"), "2", days(5))
    with pytest.raises(Refused, match="was fitted on 8 Mar 2025"):
        actions.move_wear(log=entry, to=late, day=days(6))
    assert entry.fitting.logs.count() == 1


def test_life_logged_after_the_change_moves_to_the_cutter_that_broke():
    old = fitted(cutter(), "4")
    stock(old.item, 1)
    new = actions.swap(fitting=old, reason="broken", day=days(2))
    actions.move_wear(log=log(new, 16, days(2)), to=old, day=days(3))
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.life_used, old.end_reason, new.life_used) == (16, "broken", 0)
    assert audit() == []


def test_entry_is_not_moved_to_one_that_was_out_by_then():
    old = fitted(cutter(), "4")
    stock(old.item, 1)
    entry = log(actions.swap(fitting=old, reason="worn", day=days(2)), 16, days(3))
    with pytest.raises(Refused, match="T-0001 was taken out on 5 Mar 2025, before 6 Mar 2025"):
        actions.move_wear(log=entry, to=old, day=days(4))
    assert entry.fitting.logs.count() == 1


def test_entry_is_not_moved_to_one_that_goes_on_elsewhere():
    old = remove(fitted(cutter(), "4"), "removed_early")
    fitted(old.item, "7", continues=old)
    entry = log(fitted(cutter("MILL-10"), "1"), 5)
    with pytest.raises(WrongState, match="T-0001 goes on as T-0002; log it there"):
        actions.move_wear(log=entry, to=old, day=DAY)


def test_wear_read_after_a_wrong_entry_moves_back_with_it():
    fitting = fitted(cutter())
    log(fitting, 30)
    actions.read_wear(fitting=fitting, vb_um=60, day=DAY)
    wrong = log(fitting, 300)
    actions.read_wear(fitting=fitting, vb_um=70, day=DAY)
    log(fitting, 20)
    actions.read_wear(fitting=fitting, vb_um=90, day=DAY)
    actions.reverse_wear(log=wrong, day=DAY)
    at = fitting.readings.order_by("pk").values_list("vb_um", "life_at")
    assert list(at) == [(60, 30), (70, 30), (90, 50)]


# Changing


def test_swap_closes_one_life_and_opens_the_next_in_its_pocket(maker):
    item = cutter()
    stock(item, 3)
    old = fitted(item, "4", work_material="annealed")
    log(old, 80)
    new = actions.swap(fitting=old, reason="broken", day=days(1), by=maker)
    old.refresh_from_db()
    assert (old.end_reason, old.removed_on, old.life_used) == ("broken", days(1), 80)
    assert (new.pocket, new.life_used, new.work_material) == ("4", 0, "annealed")
    assert on_hand(item) == 1
    assert Posting.objects.order_by("pk").last().by == maker


def test_swap_without_a_spare_leaves_the_old_one_in():
    item = cutter()
    stock(item, 1)
    old = fitted(item)
    with pytest.raises(NotEnough):
        actions.swap(fitting=old, reason="worn", day=DAY)
    old.refresh_from_db()
    assert old.is_fitted


def test_cutter_set_aside_goes_on_where_it_stopped_and_nothing_leaves_stock():
    item = cutter()
    stock(item, 2)
    old = fitted(item, "4")
    log(old, 40)
    old = remove(old, "removed_early")
    on = fitted(item, "7", day=days(1), continues=old)
    log(on, 25, days(1))
    on.refresh_from_db()
    assert (on.life_before, on.life_used, on.lot, on_hand(item)) == (40, 65, old.lot, 1)
    assert audit() == []


def test_continued_cutter_is_one_life_not_two():
    item = cutter()
    stock(item, 2)
    old = fitted(item, "4")
    log(old, 40)
    on = fitted(item, "7", continues=remove(old, "removed_early"))
    log(on, 25)
    remove(on, "worn")
    model = known_life_models([item])[item.pk]
    assert (model.failures, model.censored) == (1, 0)


@pytest.mark.parametrize("reason", ["worn", "broken", "lost"])
def test_cutter_at_the_end_of_its_life_does_not_go_on(reason):
    item = cutter()
    old = remove(fitted(item, "4"), reason)
    with pytest.raises(WrongState, match="wasn't set aside while still good"):
        fitted(item, "7", continues=old)


def test_cutter_goes_on_once_and_as_what_it_is():
    item, other = cutter(), cutter("MILL-10")
    old = remove(fitted(item, "4"), "removed_early")
    with pytest.raises(Refused, match="T-0001 is a MILL-6, not a MILL-10"):
        fitted(other, "7", continues=old)
    fitted(item, "7", continues=old)
    with pytest.raises(WrongState, match="can't go on"):
        fitted(item, "8", continues=Fitting.objects.get(pk=old.pk))


def test_entry_of_a_cutter_that_goes_on_is_corrected_there():
    item = cutter()
    old = fitted(item, "4")
    entry = log(old, 40)
    fitted(item, "7", continues=remove(old, "removed_early"))
    with pytest.raises(WrongState, match="T-0001 goes on as T-0002; correct it there"):
        actions.reverse_wear(log=entry, day=DAY)
    assert audit() == []


def test_cutter_does_not_go_on_before_it_was_set_aside():
    old = remove(fitted(cutter(), "4"), "removed_early", days(5))
    with pytest.raises(Refused, match="T-0001 was taken out on 8 Mar 2025, after 6 Mar 2025"):
        fitted(old.item, "7", days(3), continues=old)
    assert Fitting.objects.count() == 1


def test_work_that_is_not_said_is_what_most_bills_say_of_the_pocket():
    item, mill = cutter(), machine()
    for code, material in (("TRAIL", "440C, soft"), ("NECK", "440C, soft"), ("CAMP", "D2, soft")):
        wear = NewWear(item, D(5), mill, "1", material, "60 m/min")
        simple_knife(code, wear=(wear,))
    assert (fitted(item, "1").work_material, item.fittings.get().cutting_data) == (
        "440C, soft",
        "60 m/min",
    )
    assert fitted(item, "2").work_material == ""
    assert fitted(item, "3", work_material="brass").work_material == "brass"


def test_pocket_is_the_same_in_small_letters_and_with_blanks_around():
    item = cutter()
    fitted(item, "T4")
    with pytest.raises(WrongState, match="Mill T4 holds T-0001"):
        fitted(item, " t4 ")


def test_pocket_of_blanks_is_refused():
    with pytest.raises(Refused, match="name the pocket"):
        fitted(cutter(), "  ")
