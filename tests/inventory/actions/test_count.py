"""What was counted becomes the balance, with a reason; pieces shrink, vanish or turn up."""

import pytest

from inventory import actions
from inventory.errors import Refused, WrongState, WrongUnit
from inventory.models import Piece
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    epoxy,
    in_work,
    line,
    on_hand,
    place,
    rack,
    reserved,
    screws,
    sheet,
    simple_knife,
    stock,
    where,
)

pytestmark = pytest.mark.django_db


def count(lot, counted, reason="cycle count", **values):
    shelf = values.pop("place", None) or where(lot)
    return actions.count_lot(
        lot=lot, place=shelf, counted=D(counted), day=DAY, reason=reason, **values
    )


def recount(piece, length_mm, width_mm=None, reason="cycle count"):
    return actions.count_piece(
        piece=piece,
        length_um=int(length_mm * MM),
        width_um=width_mm and int(width_mm * MM),
        day=DAY,
        reason=reason,
    )


@pytest.mark.parametrize("counted", ["97", "103", "0"], ids=["less", "more", "none"])
def test_difference_is_posted_with_its_reason(counted):
    lot = stock(screws(), 100)
    posting = count(lot, counted, "bag held fewer")
    assert on_hand(lot) == D(counted)
    assert posting.movements.get().qty == D(counted) - 100
    assert (posting.kind, posting.reason) == ("count", "bag held fewer")


def test_right_count_posts_nothing_and_needs_no_reason():
    lot = stock(screws(), 100)
    assert count(lot, 100, "") is None
    assert lot.movements.count() == 1


def test_difference_without_a_reason_is_refused():
    lot = stock(screws(), 100)
    with pytest.raises(Refused, match="differs from the record. Say why"):
        count(lot, 97, "")
    assert on_hand(lot) == 100


def test_stock_found_at_another_place_is_counted_in_there():
    lot = stock(screws(), 100)
    count(lot, 5, place=place("Behind the mill"))
    assert on_hand(lot) == 105


@pytest.mark.parametrize(
    ("counted", "refusal", "words"),
    [("-1", Refused, "below zero"), ("2.5", WrongUnit, "whole pieces")],
    ids=["negative", "half a screw"],
)
def test_count_that_can_not_be_is_refused(counted, refusal, words):
    lot = stock(screws(), 100)
    with pytest.raises(refusal, match=words):
        count(lot, counted)


def test_grams_are_weighed_to_the_milligram():
    lot = stock(epoxy(), 500)
    count(lot, "317.402")
    assert on_hand(lot) == D("317.402")


def test_count_of_a_bar_by_length_is_refused():
    (piece,) = rack(bar(), 1000)
    with pytest.raises(WrongUnit, match="kept in pieces"):
        count(piece.lot, 900, place=where(piece.lot))


def test_shorter_piece_is_a_remnant_under_a_new_label():
    (piece,) = rack(bar(), 1000)
    recount(piece, 940)
    assert on_hand(piece) == 0
    assert piece.remnants.get().length_um == 940 * MM
    assert on_hand(piece.lot) == 940
    assert audit() == []


def test_piece_that_is_gone_is_counted_out():
    (piece,) = rack(bar(), 1000)
    recount(piece, 0)
    assert on_hand(piece) == 0
    assert recount(piece, 0) is None


def test_piece_booked_out_by_mistake_comes_back_whole():
    (piece,) = rack(bar(), 1000)
    actions.issue_piece(piece=piece, day=DAY, reason="one-off")
    recount(piece, 1000)
    assert on_hand(piece) == 1000


def test_piece_that_was_cut_does_not_come_back_beside_its_remnant():
    (piece,) = rack(bar(), 1000)
    actions.cut_piece(
        piece=piece, parts=[(500 * MM, None, 1)], remnants=[(400 * MM, None)], day=DAY
    )
    with pytest.raises(WrongState, match="its remnant P-0002 is in stock"):
        recount(piece, 1000)
    assert on_hand(piece.lot) == 400


@pytest.mark.parametrize(
    ("length", "width", "words"),
    [(1001, None, "received smaller"), (-5, None, "below zero")],
    ids=["grown", "negative"],
)
def test_bar_can_not_have_grown(length, width, words):
    (piece,) = rack(bar(), 1000)
    with pytest.raises(Refused, match=words):
        recount(piece, length, width)
    assert Piece.objects.count() == 1


def test_sheet_loses_a_strip_in_one_direction():
    (piece,) = rack(sheet(), (600, 300))
    recount(piece, 600, 250)
    assert on_hand(piece.lot) == 150_000
    with pytest.raises(Refused, match="received smaller"):
        recount(piece.remnants.get(), 500, 260)


def test_piece_found_shorter_is_let_go_by_the_batch_that_held_it():
    steel = bar()
    (piece,) = rack(steel, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)
    recount(piece, 900)
    assert on_hand(steel) == 900
    assert not batch.reservations.filter(is_open=True).exists()
    assert audit() == []


@pytest.mark.parametrize(("counted", "still_held"), [(9, 8), (8, 8), (3, 3), (0, None)])
def test_count_below_what_a_batch_holds_is_posted_and_it_holds_what_is_left(counted, still_held):
    lot = stock(screws(), 10)
    batch = in_work(simple_knife("TRAIL", line(lot.item, 4)), 2)
    actions.count_lot(lot=lot, place=where(lot), counted=D(counted), day=DAY, reason="counted")
    assert on_hand(lot) == counted
    held = batch.reservations.filter(is_open=True).first()
    assert (held.qty if held else None) == still_held
    assert audit() == []
