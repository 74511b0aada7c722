"""A wrong posting is answered by its opposite and stays readable."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import Movement, OrderReceipt, Posting
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    cutter,
    days,
    fitted,
    in_work,
    line,
    offer,
    on_hand,
    order_line,
    place,
    rack,
    reserved,
    screws,
    simple_knife,
    stock,
    where,
)

pytestmark = pytest.mark.django_db


def last_posting():
    return Posting.objects.order_by("pk").last()


def reverse(posting, day=DAY):
    return actions.reverse_posting(posting=posting, day=day)


def test_reversed_delivery_leaves_nothing_and_both_entries_stay():
    lot = stock(screws(), 100)
    reversal = reverse(last_posting())
    assert on_hand(lot) == 0
    assert (reversal.kind, reversal.reverses.kind) == ("reverse", "receive")
    assert [move.qty for move in Movement.objects.order_by("pk")] == [100, -100]


def test_reversed_delivery_opens_its_order_line_again():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)))
    actions.receive_delivery(item=item, qty=D(100), day=days(9), order_line=ordered)
    reverse(last_posting(), days(9))
    ordered.refresh_from_db()
    assert (ordered.received_qty, ordered.closed, ordered.order.state) == (0, False, "sent")
    assert not OrderReceipt.objects.exists()
    actions.receive_delivery(item=item, qty=D(100), day=days(9), order_line=ordered)
    assert audit() == []


def test_delivery_of_which_some_is_used_is_not_reversed():
    item = screws()
    stock(item, 100)
    delivery = last_posting()
    actions.issue_stock(item=item, qty=D(1), day=DAY, reason="sample")
    with pytest.raises(NotEnough, match="has 99 at Shop, 100 was asked for"):
        reverse(delivery)
    assert on_hand(item) == 99


def test_delivery_held_for_a_batch_is_not_reversed():
    item = screws()
    stock(item, 100)
    delivery = last_posting()
    reserved(simple_knife("TRAIL", line(item, 3)), 4)
    with pytest.raises(NotEnough, match="held for batch B-0001"):
        reverse(delivery)


def test_reversed_cut_makes_the_bar_whole_again():
    (piece,) = rack(bar(), 1000)
    posting = actions.cut_piece(
        piece=piece, parts=[(500 * MM, None, 1)], remnants=[(400 * MM, None)], day=DAY
    )
    reverse(posting)
    assert (on_hand(piece), on_hand(piece.lot)) == (1000, 1000)
    assert audit() == []


def test_cut_whose_remnant_is_used_is_not_reversed():
    (piece,) = rack(bar(), 1000)
    posting = actions.cut_piece(
        piece=piece, parts=[(500 * MM, None, 1)], remnants=[(400 * MM, None)], day=DAY
    )
    actions.issue_piece(piece=piece.remnants.get(), day=DAY, reason="one-off")
    with pytest.raises(NotEnough, match="piece P-0002 has 0 mm at Shop"):
        reverse(posting)
    assert on_hand(piece.lot) == 0


@pytest.mark.parametrize("counted", [97, 103, 0])
def test_reversed_count_restores_the_balance(counted):
    lot = stock(screws(), 100)
    posting = actions.count_lot(
        lot=lot, place=where(lot), counted=D(counted), day=DAY, reason="miscounted"
    )
    reverse(posting)
    assert on_hand(lot) == 100


def test_reversed_count_of_a_shorter_piece_restores_the_piece():
    (piece,) = rack(bar(), 1000)
    reverse(actions.count_piece(piece=piece, length_um=900 * MM, day=DAY, reason="bent end"))
    assert (on_hand(piece), on_hand(piece.lot)) == (1000, 1000)


def test_reversed_move_brings_stock_back():
    lot = stock(screws(), 100)
    home = where(lot)
    posting = actions.move_stock(
        lot=lot, place_from=home, place_to=place("Bench"), qty=D(40), day=DAY
    )
    reverse(posting)
    assert {balance.place: balance.qty for balance in lot.balances.all()} == {home: 100}


def test_entry_is_reversed_once():
    stock(screws(), 100)
    delivery = last_posting()
    reverse(delivery)
    with pytest.raises(WrongState, match="was reversed before"):
        reverse(delivery)


def test_reversal_is_not_reversed():
    stock(screws(), 100)
    with pytest.raises(WrongState, match="Enter what really happened"):
        reverse(reverse(last_posting()))


def test_fitting_of_a_cutter_is_not_reversed_while_it_is_in_the_machine():
    mill = cutter()
    stock(mill, 3)
    fitted(mill)
    with pytest.raises(WrongState, match="Take it out as removed early"):
        reverse(last_posting())
    assert on_hand(mill) == 2


def test_issue_of_which_some_came_back_is_not_reversed():
    lot = stock(screws(), 100)
    taken = actions.issue_stock(item=lot.item, qty=D(10), day=DAY, reason="repair")
    back = actions.return_stock(lot=lot, qty=D(4), day=DAY, reason="repair")
    with pytest.raises(WrongState, match="4 of that came back to lot L-0001"):
        reverse(taken)
    reverse(back)
    reverse(taken)
    assert on_hand(lot) == 100


@pytest.mark.parametrize(
    ("leaves", "returns"),
    [
        pytest.param("issue", "return", id="taken and brought back"),
        pytest.param("cut", "count", id="cut, then found whole"),
        pytest.param("count", "count", id="counted as gone, then found"),
    ],
)
@pytest.mark.parametrize("elsewhere", [False, True], ids=["where it lay", "at another place"])
def test_bar_that_is_back_is_not_put_there_again(leaves, returns, elsewhere):
    (piece,) = rack(bar(), 500)
    whole = {"piece": piece, "day": DAY, "reason": "sample"}
    gone = {
        "issue": lambda: actions.issue_piece(**whole),
        "cut": lambda: actions.cut_piece(**whole, parts=[(200 * MM, None, 1)], remnants=[]),
        "count": lambda: actions.count_piece(**whole, length_um=0),
    }[leaves]()
    if returns == "return":
        actions.return_piece(**whole)
    else:
        actions.count_piece(**whole, length_um=500 * MM)
    if elsewhere:
        actions.move_stock(lot=piece.lot, piece=piece, place_to=place("Bench"), day=DAY)
    with pytest.raises(WrongState, match=r"in stock already|came back"):
        reverse(gone)
    assert on_hand(piece) == 500
    assert audit() == []


def test_entry_is_not_undone_on_a_day_before_its_own():
    lot = stock(screws(), 100)
    with pytest.raises(Refused, match="it can't be undone on 2 Mar 2025, before it"):
        reverse(last_posting(), days(-1))
    assert on_hand(lot) == 100


def test_cuts_of_a_batch_in_work_are_not_undone_until_it_is_cancelled():
    steel = bar()
    rack(steel, 1000)
    knife = simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None)))
    batch = in_work(knife, 2)
    cut = batch.postings.get(kind="cut")
    with pytest.raises(WrongState, match="Cancel the batch first"):
        actions.reverse_posting(posting=cut, day=DAY)
    actions.cancel_batch(batch=batch, day=DAY, note="never cut")
    actions.reverse_posting(posting=cut, day=DAY)
    assert on_hand(steel) == 1000


def test_use_that_a_count_has_put_right_is_not_undone_a_second_time():
    lot = stock(screws(), 100)
    used = actions.issue_stock(item=lot.item, qty=D(20), day=DAY, reason="repair")
    place = lot.balances.get().place
    count = actions.count_lot(
        lot=lot, place=place, counted=D(90), day=DAY, reason="typed 20 for 10"
    )
    with pytest.raises(WrongState, match=f"counted since, by entry {count.pk}"):
        actions.reverse_posting(posting=used, day=DAY)
    actions.reverse_posting(posting=count, day=DAY)
    actions.reverse_posting(posting=used, day=DAY)
    assert on_hand(lot.item) == 100


def test_use_is_undone_though_something_was_found_since():
    lot = stock(screws(), 100)
    used = actions.issue_stock(item=lot.item, qty=D(20), day=DAY, reason="repair")
    actions.find_stock(lot=lot, qty=D(3), day=DAY)
    actions.reverse_posting(posting=used, day=DAY)
    assert on_hand(lot.item) == 103
