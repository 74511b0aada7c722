"""A life whose end, reading or regrind was noted wrongly."""

import pytest

from inventory import actions
from inventory.errors import WrongState
from inventory.models import Fitting, Regrind, WearReading
from inventory.queries.audit import audit
from tests.factories import DAY, D, cutter, days, fitted, on_hand, stock

pytestmark = pytest.mark.django_db


def log(fitting, amount, day=DAY):
    return actions.log_wear(fitting=fitting, amount=D(amount), day=day)


def remove(fitting, reason="worn"):
    return actions.remove(fitting=fitting, reason=reason, day=DAY)


def swapped(item=None):
    """One that worked, and the next of a stock of two in its pocket."""
    item = item or cutter()
    stock(item, 2)
    old = fitted(item, "4")
    log(old, 60)
    return old, actions.swap(fitting=old, reason="broken", day=days(2))


def test_reason_is_corrected_and_the_record_says_by_whom(maker):
    old = remove(fitted(cutter()), "lost")
    assert actions.correct_end_reason(fitting=old, reason="worn", by=maker).end_reason == "worn"
    (note,) = old.corrections.all()
    assert (note.words, note.by) == ("Was noted as lost; it was worn.", maker)


@pytest.mark.parametrize(
    ("before", "reason", "words"),
    [
        (lambda one: None, "worn", "is in Mill 1. Take it out"),
        (remove, "worn", "noted as worn already"),
        (
            lambda one: fitted(one.item, "2", continues=remove(one, "removed_early")),
            "broken",
            "goes on as T-0002, so it was removed early",
        ),
        (
            lambda one: actions.send_to_regrind(fitting=remove(one), day=DAY),
            "lost",
            "went out to be reground",
        ),
    ],
    ids=["still in", "the same", "goes on", "out to be reground"],
)
def test_reason_that_can_not_be_is_refused(before, reason, words):
    one = fitted(cutter())
    before(one)
    with pytest.raises(WrongState, match=words):
        actions.correct_end_reason(fitting=one, reason=reason)
    assert not one.corrections.exists()


def test_cutter_that_never_came_out_goes_on_and_the_next_returns_to_stock(maker):
    old, new = swapped()
    back = actions.put_back_in(fitting=old, day=days(3), by=maker)
    assert (back.is_fitted, back.end_reason, back.life_used) == (True, "", 60)
    assert not Fitting.objects.filter(pk=new.pk).exists()
    assert on_hand(old.item) == 1
    assert old.corrections.get().words == (
        "Was noted as broken on 5 Mar 2025; it never came out. T-0002 went back into stock."
    )
    assert log(back, 10, days(3))
    assert audit() == []


def test_cutter_that_left_an_empty_pocket_is_put_back_in():
    old = remove(fitted(cutter()))
    assert actions.put_back_in(fitting=old, day=DAY).is_fitted


def test_successor_that_was_reground_or_set_aside_goes_back_there():
    item = cutter()
    ground = remove(fitted(item, "1"))
    sent = actions.send_to_regrind(fitting=ground, day=DAY)
    actions.bring_back_reground(regrind=sent, day=DAY)
    aside = remove(fitted(item, "2"), "removed_early")
    one, two = fitted(item, "3"), fitted(item, "4")
    actions.swap(fitting=one, reason="worn", day=DAY, regrind=Regrind.objects.get())
    actions.swap(fitting=two, reason="worn", day=DAY, continues=aside)
    for old in (one, two):
        actions.put_back_in(fitting=old, day=DAY)
    assert Regrind.objects.get().fitted_as is None
    assert not Fitting.objects.filter(continues=aside).exists()
    assert on_hand(item) == 0
    assert audit() == []


def test_successor_that_has_worked_stays_in():
    old, new = swapped()
    log(new, 5, days(2))
    with pytest.raises(WrongState, match="T-0002 has worked in Mill 4 since. Move its entries"):
        actions.put_back_in(fitting=old, day=days(3))
    assert Fitting.objects.get(removed_on=None) == new
    assert on_hand(old.item) == 0


def test_successor_whose_entries_were_taken_back_is_set_aside():
    old, new = swapped()
    actions.reverse_wear(log=log(new, 5, days(2)), day=days(2))
    actions.put_back_in(fitting=old, day=days(3))
    new.refresh_from_db()
    assert new.end_reason == "removed_early"
    assert audit() == []


def test_pocket_that_held_another_since_is_put_right_from_the_last_one():
    old, new = swapped()
    stock(old.item, 1)
    actions.swap(fitting=new, reason="broken", day=days(3))
    with pytest.raises(WrongState, match="Put that one right first"):
        actions.put_back_in(fitting=old, day=days(4))


def test_life_that_goes_on_elsewhere_or_was_sent_out_is_not_put_back():
    item = cutter()
    aside = remove(fitted(item, "1"), "removed_early")
    fitted(item, "2", continues=aside)
    sent = remove(fitted(item, "3"))
    actions.send_to_regrind(fitting=sent, day=DAY)
    for one, words in ((aside, "Correct it there"), (sent, "Take that back first")):
        with pytest.raises(WrongState, match=words):
            actions.put_back_in(fitting=one, day=DAY)


def test_reading_is_taken_back_and_the_record_says_what_it_read(maker):
    one = fitted(cutter())
    wrong = actions.read_wear(fitting=one, vb_um=900, day=DAY)
    actions.take_back_reading(reading=wrong, by=maker)
    assert not WearReading.objects.exists()
    assert "900 µm" in one.corrections.get().words


def test_regrind_that_was_only_sent_is_taken_back_one_that_came_back_is_not():
    one = remove(fitted(cutter()))
    actions.take_back_regrind(regrind=actions.send_to_regrind(fitting=one, day=DAY))
    again = actions.send_to_regrind(fitting=Fitting.objects.get(pk=one.pk), day=DAY)
    actions.bring_back_reground(regrind=again, day=DAY)
    with pytest.raises(WrongState, match="came back from regrinding"):
        actions.take_back_regrind(regrind=again)
