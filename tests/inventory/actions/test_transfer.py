import pytest

from inventory import actions
from inventory.errors import NotEnough, Refused
from inventory.queries.availability import stock_by_item
from tests.factories import DAY, D, bar, on_hand, place, rack, screws, stock, vendor, where

pytestmark = pytest.mark.django_db


def test_part_of_a_lot_moves_and_the_total_stays():
    lot = stock(screws(), 100)
    home, bench = where(lot), place("Bench")
    actions.move_stock(lot=lot, place_from=home, place_to=bench, qty=D(40), day=DAY)
    assert {row.place: row.qty for row in lot.balances.all()} == {home: 60, bench: 40}


def test_piece_moves_whole():
    (piece,) = rack(bar(), 1000)
    actions.move_stock(lot=piece.lot, piece=piece, place_to=place("Bench"), day=DAY)
    assert where(piece.lot).name == "Bench"
    assert on_hand(piece) == 1000


def test_stock_at_a_vendor_is_on_hand_and_away():
    item = screws()
    lot = stock(item, 100)
    away = vendor().places.get()
    actions.move_stock(lot=lot, place_from=where(lot), place_to=away, qty=D(40), day=DAY)
    found = stock_by_item(DAY, [item.pk])[item.pk]
    assert (found.on_hand, found.away) == (100, 40)


@pytest.mark.parametrize(
    ("qty", "refusal", "words"),
    [
        (D(101), NotEnough, "has 100 at Shop, 101 was asked for"),
        (D(0), Refused, "how much to move"),
        (D(-1), Refused, "how much to move"),
        (None, Refused, "how much to move"),
    ],
    ids=["too much", "nothing", "negative", "not said"],
)
def test_move_that_can_not_be_is_refused(qty, refusal, words):
    lot = stock(screws(), 100)
    with pytest.raises(refusal, match=words):
        actions.move_stock(
            lot=lot, place_from=where(lot), place_to=place("Bench"), qty=qty, day=DAY
        )
    assert where(lot).name == "Shop"


def test_move_to_where_it_lies_is_refused():
    lot = stock(screws(), 100)
    with pytest.raises(Refused, match="already lies at Shop"):
        actions.move_stock(lot=lot, place_from=where(lot), place_to=where(lot), qty=D(1), day=DAY)
