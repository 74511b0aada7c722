"""A bar end with its stamp cut off: for practice only, until somebody tells what it is."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, NotUsable, Refused, WrongState
from inventory.queries.availability import stock_by_item
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    in_work,
    line,
    on_hand,
    rack,
    reserved,
    simple_knife,
    stock,
)
from tests.factories import epoxy as glue

pytestmark = pytest.mark.django_db
NOTE = "stamp cut off"
CUT = {"parts": [(100 * MM, None, 1)], "remnants": [], "day": DAY}


@pytest.fixture
def steel():
    return bar()


@pytest.fixture
def doubted(steel):
    (piece,) = rack(steel, 300, maker_number="H-77")
    return actions.doubt_lot(piece=piece, day=DAY, note=NOTE)


def test_piece_of_an_unknown_lot_stays_on_hand_and_is_not_available(steel, doubted):
    stock_now = stock_by_item(DAY, [steel.pk])[steel.pk]
    assert (stock_now.on_hand, stock_now.available) == (300, 0)
    assert stock_now.unusable == {"lot unknown, for practice only": 300}
    assert doubted.lot.maker_number == ""
    assert "was piece P" in doubted.lot.note


def test_unknown_piece_is_cut_for_practice_and_for_nothing_else(doubted):
    with pytest.raises(NotUsable, match="lot unknown, for practice only"):
        actions.cut_piece(piece=doubted, reason="repair", **CUT)
    actions.cut_piece(piece=doubted, reason="practice", **CUT)
    assert on_hand(doubted) == 0


def test_unknown_piece_is_taken_whole_for_practice(doubted):
    with pytest.raises(NotUsable):
        actions.issue_piece(piece=doubted, day=DAY, reason="one-off")
    actions.issue_piece(piece=doubted, day=DAY, reason="practice")
    assert on_hand(doubted) == 0


def test_can_without_a_label_is_used_for_practice_when_it_is_named():
    lot = stock(glue(), 50, status="unknown")
    with pytest.raises(NotEnough, match="lot unknown"):
        actions.issue_stock(item=lot.item, qty=D(10), day=DAY, reason="repair", lot=lot)
    actions.issue_stock(item=lot.item, qty=D(10), day=DAY, reason="practice", lot=lot)
    assert on_hand(lot) == 40


def test_batch_never_cuts_an_unknown_piece(steel, doubted):
    knife = simple_knife("TRAIL", line(steel, 1, cut=(100 * MM, None)))
    with pytest.raises(NotEnough):
        reserved(knife, 1)
    actions.set_lot_status(lot=doubted.lot, status="released", note="spark test: 440C")
    assert in_work(knife, 1).state == "in_work"


def test_doubt_without_a_reason_or_about_a_held_piece_is_refused(steel):
    (piece,) = rack(steel, 300)
    with pytest.raises(Refused, match="why its lot is in doubt"):
        actions.doubt_lot(piece=piece, day=DAY, note="")
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(100 * MM, None))), 1)
    with pytest.raises(NotEnough, match=f"held for batch {batch.number}"):
        actions.doubt_lot(piece=piece, day=DAY, note=NOTE)
    assert on_hand(piece) == 300
    assert not steel.lots.filter(status="unknown").exists()


def test_piece_in_doubt_is_not_found_under_its_old_label_as_well(steel):
    (piece,) = rack(steel, 300)
    doubted = actions.doubt_lot(piece=piece, day=DAY, note=NOTE)
    with pytest.raises(WrongState, match=f"is in stock as {doubted.label}"):
        actions.count_piece(piece=piece, length_um=300 * MM, day=DAY, reason="found")
    assert on_hand(steel) == 300
