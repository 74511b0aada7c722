from datetime import date

import pytest

from inventory import actions
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import Lot
from tests.factories import DAY, days, epoxy, screws, stock

pytestmark = pytest.mark.django_db


def test_lot_is_released_after_inspection():
    lot = stock(epoxy(), 100, status="received")
    assert actions.set_lot_status(lot=lot, status="released").why_unusable(DAY) == ""


@pytest.mark.parametrize("status", ["rejected", "quarantine"])
def test_bad_news_need_a_note(status):
    lot = stock(epoxy(), 100)
    with pytest.raises(Refused, match="say in a note why it is"):
        actions.set_lot_status(lot=lot, status=status)
    lot.refresh_from_db()
    assert lot.status == "released"
    noted = actions.set_lot_status(lot=lot, status=status, note="lumps").note
    assert noted.endswith(f": {status}: lumps")


def test_status_of_no_list_is_refused():
    with pytest.raises(Refused, match="is no status"):
        actions.set_lot_status(lot=stock(epoxy(), 1), status="fine", note="?")


@pytest.mark.parametrize(
    ("opened_life", "expected"),
    [(30, days(40)), (3650, days(365)), (None, days(365))],
    ids=["opened life is shorter", "shelf life is shorter", "no opened life"],
)
def test_opened_lot_expires_at_the_earlier_of_both_lives(opened_life, expected):
    lot = stock(epoxy(shelf_life_days=365, opened_life_days=opened_life), 100)
    assert actions.open_lot(lot=lot, day=days(10)).expires_on == expected


def test_lot_is_opened_once_and_not_before_it_came():
    lot = stock(epoxy(), 100)
    with pytest.raises(Refused, match="came in on 3 Mar 2025, after 2 Mar 2025"):
        actions.open_lot(lot=lot, day=days(-1))
    actions.open_lot(lot=lot, day=DAY)
    with pytest.raises(Refused, match="was opened on 3 Mar 2025"):
        actions.open_lot(lot=lot, day=days(1))


def test_test_mix_extends_a_lot_and_its_note_is_kept():
    lot = stock(epoxy(shelf_life_days=10), 100)
    extended = actions.extend_lot(lot=lot, expires_on=days(90), note="test mix cured hard")
    assert extended.why_unusable(days(60)) == ""
    told = "extended from 13 Mar 2025 to 1 Jun 2025: test mix cured hard"
    assert extended.note == f"{show_day(date.today())}: {told}"


def test_history_of_a_lot_reads_line_by_line_with_day_and_person(maker):
    lot = stock(epoxy(shelf_life_days=10), 100, note="came cold")
    actions.extend_lot(lot=lot, expires_on=days(40), note="test mix", by=maker)
    actions.set_lot_status(lot=lot, status="quarantine", note="lumps", by=maker)
    actions.set_lot_status(lot=lot, status="released", note="warmed, clear", by=maker)
    lines = lot.note.splitlines()
    assert [line.partition(": ")[2] for line in lines[1:]] == [
        "extended from 13 Mar 2025 to 12 Apr 2025: test mix",
        "quarantine: lumps",
        "released: warmed, clear",
    ]
    assert all(line.startswith(f"{show_day(date.today())}, maker: ") for line in lines[1:])


def test_unknown_lot_is_released_only_with_a_note_how_it_was_told():
    lot = stock(epoxy(), 100, status="unknown")
    assert lot.why_unusable(DAY) == "lot unknown, for practice only"
    with pytest.raises(Refused, match="how it was told which material it is"):
        actions.set_lot_status(lot=lot, status="released")
    assert not actions.set_lot_status(lot=lot, status="released", note="smell").why_unusable(DAY)


@pytest.mark.parametrize(
    ("day", "note", "words"),
    [
        (days(90), "", "which test shows"),
        (days(10), "test mix", "lasts until 13 Mar 2025 already"),
        (date(9999, 12, 31), "test mix", "Check the year"),
    ],
    ids=["no test named", "the same day", "a slip of the year"],
)
def test_extension_without_reason_or_gain_is_refused(day, note, words):
    lot = stock(epoxy(shelf_life_days=10), 100)
    with pytest.raises(Refused, match=words):
        actions.extend_lot(lot=lot, expires_on=day, note=note)


def test_extension_that_was_a_slip_is_taken_back_with_a_note():
    lot = stock(epoxy(shelf_life_days=10), 100)
    actions.extend_lot(lot=lot, expires_on=days(400), note="test mix")
    actions.extend_lot(lot=lot, expires_on=days(40), note="wrong month")
    assert lot.expires_on == days(40)
    assert lot.note.endswith("shortened from 7 Apr 2026 to 12 Apr 2025: wrong month")


def test_lot_that_never_expires_is_not_extended():
    with pytest.raises(Refused, match="nothing to extend"):
        actions.extend_lot(lot=stock(screws(), 10), expires_on=days(40), note="why not")


def test_lot_is_not_opened_on_a_day_to_come():
    lot = stock(epoxy(), 100)
    with pytest.raises(Refused, match="is in the future"):
        actions.open_lot(lot=lot, day=date(2999, 1, 1))


def test_two_people_note_something_at_once_and_both_notes_are_kept():
    lot = stock(epoxy(shelf_life_days=10), 100)
    one, other = (Lot.objects.get(pk=lot.pk) for _ in range(2))
    actions.set_lot_status(lot=one, status="quarantine", note="lumps")
    actions.extend_lot(lot=other, expires_on=days(40), note="test mix")
    lot.refresh_from_db()
    assert "quarantine: lumps" in lot.note
    assert lot.note.endswith("to 12 Apr 2025: test mix")
