"""What turns up goes back into its lot."""

import pytest

from inventory import actions
from inventory.errors import Refused
from inventory.models import Movement
from tests.factories import DAY, D, on_hand, place, rack, screws, stock
from tests.factories import bar as make_bar

pytestmark = pytest.mark.django_db


def test_screws_found_behind_the_bench_are_more_than_the_record():
    lot = stock(screws(), 10)
    posting = actions.find_stock(lot=lot, qty=D(2), day=DAY, place=place("Bench"))
    assert on_hand(lot) == 12
    assert (posting.kind, posting.reason) == ("count", "found")


@pytest.mark.parametrize("qty", ["0", "-1"])
def test_finding_nothing_is_refused(qty):
    lot = stock(screws(), 10)
    with pytest.raises(Refused, match="above zero"):
        actions.find_stock(lot=lot, qty=D(qty), day=DAY)
    assert Movement.objects.count() == 1


def test_bar_that_turns_up_is_a_piece_of_its_own():
    piece = rack(make_bar(), 500)[0]
    with pytest.raises(Refused, match="Choose the piece"):
        actions.find_stock(lot=piece.lot, qty=D(500), day=DAY)
