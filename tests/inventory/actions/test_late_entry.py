"""Entries written down late: a lot isn't used before it came, nor what a count saw a second time."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import actions
from inventory.errors import NotSure, Refused
from inventory.models import Posting
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    cutter,
    days,
    machine,
    on_hand,
    place,
    rack,
    screws,
    stock,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(db):
    return stock(screws(), 100, place=place("Shelf 1"))


@pytest.fixture
def piece(db):
    return rack(bar(), 1000, place=place("Shelf 1"))[0]


def use(of, qty=5, **values):
    return actions.issue_stock(
        **{"item": of.item, "lot": of, "qty": D(qty), "reason": "repair", **values}
    )


def back(lot, **values):
    return actions.return_stock(
        lot=lot, qty=D(2), reason="repair", place=place("Shelf 1"), **values
    )


def move(lot, **values):
    here, there = place("Shelf 1"), place("Shelf 2")
    return actions.move_stock(lot=lot, place_from=here, place_to=there, qty=D(5), **values)


def cut(piece, **values):
    return actions.cut_piece(piece=piece, parts=[(300 * MM, None, 1)], remnants=[], **values)


DEEDS = {
    "use": use,
    "first to expire": lambda lot, **values: use(lot, **{"lot": None, **values}),
    "scrap": lambda lot, **values: use(lot, reason="scrap", **values),
    "return": back,
    "move": move,
    "found": lambda lot, **values: actions.find_stock(
        lot=lot, qty=D(1), place=place("Shelf 1"), **values
    ),
}
OF_PIECES = {
    "use whole": lambda piece, **values: actions.issue_piece(
        piece=piece, reason="repair", **values
    ),
    "scrap": lambda piece, **values: actions.issue_piece(piece=piece, reason="scrap", **values),
    "cut": cut,
    "move": lambda piece, **values: actions.move_stock(
        lot=piece.lot, piece=piece, place_to=place("Shelf 2"), **values
    ),
}
deeds = pytest.mark.parametrize("deed", DEEDS.values(), ids=DEEDS)
deeds_of_pieces = pytest.mark.parametrize("deed", OF_PIECES.values(), ids=OF_PIECES)


def entries_so_far():
    return Posting.objects.count()


@deeds
def test_nothing_is_done_with_a_lot_before_it_came_in(deed, lot):
    use(lot, day=DAY)  # so that something may come back
    before = entries_so_far()
    with pytest.raises(Refused, match="(?i)lot L-0001 (came in on|is not here before) 3 Mar 2025"):
        deed(lot, day=days(-1))
    assert entries_so_far() == before


@deeds_of_pieces
def test_nothing_is_done_with_a_piece_before_its_lot_came_in(deed, piece):
    with pytest.raises(Refused, match="lot L-0001 came in on 3 Mar 2025, after 2 Mar 2025. Enter"):
        deed(piece, day=days(-1))
    assert entries_so_far() == 1


def test_piece_does_not_come_back_before_its_lot_came_in(piece):
    actions.issue_piece(piece=piece, day=DAY, reason="repair")
    with pytest.raises(Refused, match="lot L-0001 came in on 3 Mar 2025"):
        actions.return_piece(piece=piece, day=days(-1), reason="repair")


@pytest.mark.parametrize("way", ["by itself, off by one", "on a list, right", "on an open list"])
@deeds
def test_what_a_count_of_a_later_day_saw_is_asked_about_and_entered_once_confirmed(deed, way, lot):
    use(lot, day=DAY)
    if way == "by itself, off by one":
        actions.count_lot(
            lot=lot, place=place("Shelf 1"), counted=D(94), day=days(10), reason="counted"
        )
        told = "13 Mar 2025"
    else:
        count = actions.start_count(day=DAY)
        actions.enter_count(line=count.lines.get(), counted=D(95))
        if way == "on a list, right":
            actions.post_count(count=count)
        told = r"\d+ \w+ \d{4}"
    before, there = entries_so_far(), on_hand(lot)
    with pytest.raises(
        NotSure,
        match=f"lot L-0001 was counted on {told}, after 4 Mar 2025: the count saw this .* already.*the same",
    ):
        deed(lot, day=days(1))
    assert (entries_so_far(), on_hand(lot)) == (before, there)
    deed(lot, day=days(1), sure=True)
    assert entries_so_far() == before + 1
    assert audit() == []


@deeds_of_pieces
def test_piece_that_a_later_count_found_there_is_asked_about(deed, piece):
    count = actions.start_count(day=DAY)
    actions.enter_piece(line=count.lines.get(), length_um=piece.length_um)
    actions.post_count(count=count)
    with pytest.raises(NotSure, match="piece P-0001 was counted on .* the count found it there"):
        deed(piece, day=DAY)
    deed(piece, day=DAY, sure=True)
    assert audit() == []


def test_piece_that_a_later_count_found_gone_is_asked_about_when_it_came_back_before(piece):
    actions.count_piece(piece=piece, length_um=0, day=days(10), reason="counted")
    actions.count_piece(piece=piece, length_um=1000 * MM, day=days(11), reason="found")
    actions.issue_piece(piece=piece, day=days(12), reason="repair")
    actions.count_piece(piece=piece, length_um=1000 * MM, day=days(13), reason="found")
    actions.count_piece(piece=piece, length_um=0, day=days(14), reason="counted")
    with pytest.raises(NotSure, match="the count found it gone. Return it all the same"):
        actions.return_piece(piece=piece, day=days(12), reason="repair")


@pytest.mark.parametrize("later", [0, 1], ids=["on the day of the count", "the day after"])
def test_use_after_the_count_is_entered_without_a_question(later, lot):
    actions.count_lot(
        lot=lot, place=place("Shelf 1"), counted=D(94), day=days(10), reason="counted"
    )
    use(lot, day=days(10 + later))
    assert on_hand(lot) == 89


def test_use_of_today_is_entered_without_a_question(lot):
    count = actions.start_count(day=DAY)
    actions.enter_count(line=count.lines.get(), counted=D(100))
    use(lot, day=timezone.localdate())
    with pytest.raises(NotSure):
        use(lot, day=timezone.localdate() - timedelta(days=1))


def test_counts_that_do_not_stand_are_not_asked_about(lot):
    wrong = actions.count_lot(
        lot=lot, place=place("Shelf 1"), counted=D(94), day=days(10), reason="counted"
    )
    actions.reverse_posting(posting=wrong, day=days(10))
    dropped = actions.start_count(day=DAY)
    actions.enter_count(line=dropped.lines.get(), counted=D(1))
    actions.drop_count(count=dropped)
    undone = actions.start_count(day=DAY)
    actions.enter_count(line=undone.lines.get(), counted=D(1))
    entry = actions.post_count(count=undone, reason="counted").lines.get().posting
    actions.reverse_posting(posting=entry, day=timezone.localdate())
    actions.find_stock(lot=lot, qty=D(1), day=days(11))
    use(lot, day=DAY)
    assert on_hand(lot) == 96


def test_count_of_another_place_or_lot_saw_nothing_of_it(lot):
    other = stock(lot.item, 10, place=place("Shelf 1"))
    move(lot, day=DAY)
    for of, where in ((other, "Shelf 1"), (lot, "Shelf 2")):
        actions.count_lot(lot=of, place=place(where), counted=D(1), day=days(5), reason="counted")
    use(lot, day=days(1), place=place("Shelf 1"))
    assert on_hand(lot) == 91


def test_cutter_fitted_before_its_count_is_asked_about(db):
    mill = cutter()
    lot = stock(mill, 3, place=place("Shelf 1"))
    actions.count_lot(lot=lot, place=place("Shelf 1"), counted=D(2), day=days(10), reason="counted")
    asked = {"item": mill, "machine": machine(), "pocket": "1", "day": days(1)}
    with pytest.raises(NotSure, match="the count saw this use already. Take it out all the same?"):
        actions.fit(**asked)
    actions.fit(**asked, sure=True)
    assert on_hand(lot) == 1


def test_confirmation_holds_for_one_entry_only(lot):
    actions.count_lot(
        lot=lot, place=place("Shelf 1"), counted=D(94), day=days(10), reason="counted"
    )
    use(lot, day=DAY, sure=True)
    with pytest.raises(NotSure):
        use(lot, day=DAY)
