"""A piece taken and not used goes back where it was."""

import pytest

from inventory import actions
from inventory.errors import WrongState
from inventory.models import Balance, Movement, Piece
from tests.factories import DAY, bar, on_hand, place, rack

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(db):
    return rack(bar(), 500, place=place("Rack 2"))[0]


def take(piece):
    return actions.issue_piece(piece=piece, day=DAY, reason="sample")


def test_bar_comes_back_whole_to_where_it_lay(piece):
    take(piece)
    posting = actions.return_piece(piece=piece, day=DAY, reason="sample")
    assert (posting.kind, on_hand(piece)) == ("return", 500)
    assert Balance.objects.get(piece=piece).place.name == "Rack 2"


def test_bar_may_come_back_to_another_place(piece):
    take(piece)
    actions.return_piece(piece=piece, day=DAY, reason="sample", place=place("Bench"))
    assert Balance.objects.get(piece=piece).place.name == "Bench"


def test_bar_in_stock_can_not_come_back(piece):
    with pytest.raises(WrongState, match="in stock already"):
        actions.return_piece(piece=piece, day=DAY, reason="sample")
    assert Movement.objects.count() == 1


def test_bar_that_a_count_found_gone_was_not_taken(piece):
    actions.count_piece(piece=piece, length_um=0, day=DAY, reason="counted")
    with pytest.raises(WrongState, match="measure it instead"):
        actions.return_piece(piece=piece, day=DAY, reason="sample")


def test_bar_that_was_cut_up_does_not_come_back_whole(piece):
    cut = {"parts": [(200_000, None, 1)], "remnants": [(280_000, None)]}
    actions.cut_piece(piece=piece, day=DAY, reason="sample", **cut)
    with pytest.raises(WrongState, match="its remnant P-0002 is in stock"):
        actions.return_piece(piece=piece, day=DAY, reason="sample")
    assert on_hand(piece) == 0


def test_bar_does_not_come_back_whole_while_a_remnant_of_its_remnant_is_in_stock(piece):
    for kept in (400_000, 300_000):
        cut = {"parts": [], "remnants": [(kept, None)]}
        posting = actions.cut_piece(piece=Piece.objects.last(), day=DAY, reason="sample", **cut)
    assert posting.movements.count() == 2
    with pytest.raises(WrongState, match="its remnant P-0003 is in stock"):
        actions.count_piece(piece=piece, length_um=500_000, day=DAY, reason="found")
    assert on_hand(piece.lot) == 300
