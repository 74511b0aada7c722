"""Out of the shelf: first expired first, never what is held, never what may not be used."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, NotUsable, Refused, WrongUnit
from inventory.models import Movement
from tests.factories import (
    DAY,
    D,
    bar,
    days,
    epoxy,
    line,
    on_hand,
    place,
    rack,
    reserved,
    screws,
    simple_knife,
    stock,
)

pytestmark = pytest.mark.django_db


def issue(item, qty, day=DAY, **values):
    return actions.issue_stock(item=item, qty=D(qty), day=day, **{"reason": "sample", **values})


def taken_from(posting):
    return [(move.lot, -move.qty) for move in posting.movements.order_by("pk")]


def test_first_expired_goes_first_whatever_came_first():
    item = epoxy()
    without = stock(item, 10, days(-9))
    late = stock(item, 10, days(-8), expires_on=days(90))
    early = stock(item, 10, days(-7), expires_on=days(30))
    assert taken_from(issue(item, 25)) == [(early, 10), (late, 10), (without, 5)]


def test_oldest_receipt_goes_first_where_nothing_expires():
    item = screws()
    newer, older = stock(item, 10, days(-1)), stock(item, 10, days(-5))
    assert taken_from(issue(item, 12)) == [(older, 10), (newer, 2)]


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"expires_on": days(-1)}, "expired 2 Mar 2025"),
        ({"status": "quarantine"}, "quarantine"),
        ({"status": "received"}, "received"),
        ({"status": "rejected"}, "rejected"),
        ({"usable_from": days(1)}, "curing until 4 Mar 2025"),
        ({"day": days(1)}, "not here before 4 Mar 2025"),
    ],
    ids=["expired", "quarantine", "not inspected", "rejected", "curing", "came later"],
)
def test_lot_that_may_not_be_used_is_left_and_the_refusal_says_why(values, why):
    item = epoxy()
    lot = stock(item, 100, **values)
    with pytest.raises(NotEnough, match=f"0 g free and usable. Lot {lot.number} is {why}"):
        issue(item, 1)
    assert on_hand(item) == 100


@pytest.mark.parametrize(
    "values", [{"expires_on": DAY}, {"usable_from": DAY}], ids=["last day", "cured today"]
)
def test_lot_may_be_used_on_its_expiry_day_and_from_the_day_it_is_cured(values):
    item = epoxy()
    stock(item, 100, days(-3), **values)
    issue(item, 100)
    assert on_hand(item) == 0


def test_expired_lot_is_scrapped_by_name():
    item = epoxy()
    lot = stock(item, 100, expires_on=days(-1))
    posting = issue(item, 100, lot=lot, reason="scrap")
    assert (posting.kind, on_hand(item)) == ("scrap", 0)


def test_more_than_the_lot_holds_is_not_scrapped():
    item = epoxy()
    lot = stock(item, 100)
    with pytest.raises(NotEnough, match="has 100 g at Shop, 101 g was asked for"):
        issue(item, 101, lot=lot, reason="scrap")


def test_named_lot_and_place_are_kept_to():
    item = screws()
    stock(item, 10, days(-5))
    lot = stock(item, 10, days(-1), place=place("Bin 5"))
    assert taken_from(issue(item, 4, lot=lot)) == [(lot, 4)]
    assert taken_from(issue(item, 4, place=place("Bin 5"))) == [(lot, 4)]
    with pytest.raises(NotEnough, match=rf"2 free and usable in lot {lot.number}"):
        issue(item, 3, lot=lot)


def test_held_stock_is_left_for_its_batch():
    item = screws()
    stock(item, 20)
    reserved(simple_knife("TRAIL", line(item, 3)), 4)
    issue(item, 8)
    with pytest.raises(NotEnough, match="1 asked for, 0 free"):
        issue(item, 1)


def test_held_lot_is_not_scrapped_either():
    item = screws()
    lot = stock(item, 20)
    reserved(simple_knife("TRAIL", line(item, 3)), 4)
    with pytest.raises(NotEnough, match="held for batch B-0001"):
        issue(item, 9, lot=lot, reason="scrap")


@pytest.mark.parametrize(
    ("qty", "reason", "words"),
    [("0", "sample", "above zero"), ("-2", "sample", "above zero"), ("2", "", "what it is for")],
    ids=["nothing", "negative", "no reason"],
)
def test_issue_that_says_too_little_is_refused(qty, reason, words):
    item = screws()
    stock(item, 10)
    with pytest.raises(Refused, match=words):
        issue(item, qty, reason=reason)


def test_half_a_screw_is_refused():
    item = screws()
    stock(item, 10)
    with pytest.raises(WrongUnit, match="whole pieces, but got -0.5"):
        issue(item, "0.5")


def test_bar_is_not_issued_by_length():
    item = bar()
    rack(item, 1000)
    with pytest.raises(WrongUnit, match="kept in pieces"):
        issue(item, 240)


def test_back_dated_issue_takes_only_what_was_there():
    item = screws()
    stock(item, 10, days(-5))
    stock(item, 10, DAY)
    issue(item, 10, days(-2))
    with pytest.raises(NotEnough, match="not here before 3 Mar 2025. Enter a later day"):
        issue(item, 1, days(-2))


# Whole pieces


def test_piece_is_used_once():
    (piece,) = rack(bar(), 1000)
    actions.issue_piece(piece=piece, day=DAY, reason="one-off")
    with pytest.raises(NotEnough, match="P-0001 of BAR-4X40 isn't in stock any more"):
        actions.issue_piece(piece=piece, day=DAY, reason="one-off")


def test_piece_of_a_rejected_heat_can_only_be_scrapped():
    (piece,) = rack(bar(), 1000, status="rejected")
    with pytest.raises(NotUsable, match="is rejected"):
        actions.issue_piece(piece=piece, day=DAY, reason="one-off")
    assert actions.issue_piece(piece=piece, day=DAY, reason="scrap").kind == "scrap"


@pytest.mark.parametrize("reason", ["one-off", "scrap"])
def test_held_piece_is_not_issued_though_its_lot_has_others(reason):
    steel = bar()
    rack(steel, 1000, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240_000, None))), 1)
    held = batch.reservations.get().piece
    with pytest.raises(NotEnough, match=f"piece {held.label} is held for batch B-0001"):
        actions.issue_piece(piece=held, day=DAY, reason=reason)
    other = held.lot.pieces.exclude(pk=held.pk).get()
    actions.issue_piece(piece=other, day=DAY, reason=reason)


# Back again


def test_what_was_not_used_goes_back_to_its_lot():
    item = screws()
    lot = stock(item, 10)
    issue(item, 6)
    actions.return_stock(lot=lot, qty=D(2), day=DAY, reason="too many")
    assert on_hand(lot) == 6


@pytest.mark.parametrize("qty", ["0", "-1"])
def test_return_of_nothing_is_refused(qty):
    lot = stock(screws(), 10)
    with pytest.raises(Refused, match="above zero"):
        actions.return_stock(lot=lot, qty=D(qty), day=DAY, reason="too many")
    assert Movement.objects.count() == 1


def test_more_than_is_out_does_not_come_back():
    item = screws()
    lot = stock(item, 10)
    issue(item, 6)
    actions.return_stock(lot=lot, qty=D(2), day=DAY, reason="too many")
    with pytest.raises(NotEnough, match=f"4 of lot {lot.number} is out, but 5 came back"):
        actions.return_stock(lot=lot, qty=D(5), day=DAY, reason="too many")
    assert on_hand(lot) == 6


def test_what_was_undone_is_not_out():
    item = screws()
    lot = stock(item, 10)
    actions.reverse_posting(posting=issue(item, 6), day=DAY)
    with pytest.raises(NotEnough, match="is out"):
        actions.return_stock(lot=lot, qty=D(1), day=DAY, reason="too many")
