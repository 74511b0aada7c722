"""Counting the shelf from a list: stamped lines, differences posted once, nothing else changed."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import actions
from inventory.errors import NotEnough, Refused, WrongState, WrongUnit
from inventory.models import Lot, Posting
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


def started(**scope):
    return actions.start_count(day=DAY, **scope)


def counted(count, lot, qty):
    return actions.enter_count(line=count.lines.get(lot=lot, piece=None), counted=D(qty))


def measured(count, piece, length_mm, width_mm=None):
    return actions.enter_piece(
        line=count.lines.get(piece=piece),
        length_um=int(length_mm * MM),
        width_um=width_mm and int(width_mm * MM),
    )


def posted(count, reason="counted", **values):
    return actions.post_count(count=count, reason=reason, **values)


def test_list_holds_what_lies_at_its_place_and_nothing_else():
    here, there = place("Rack A"), place("Rack B")
    lot = stock(screws(), 10, place=here)
    stock(epoxy(), 500, place=there)
    count = started(place=here)
    assert [each.lot for each in count.lines.all()] == [lot]
    assert (count.number, count.what, count.state) == ("C-0001", "Rack A", "open")


def test_list_of_nothing_is_refused():
    with pytest.raises(Refused, match="Nothing is there to count: Rack A. Choose more"):
        started(place=place("Rack A"))


def test_difference_is_posted_with_its_reason_and_can_be_undone():
    lot = stock(screws(), 100)
    count = started()
    counted(count, lot, 97)
    assert on_hand(lot) == 100
    count = posted(count, "short pack")
    entry = count.lines.get().posting
    assert on_hand(lot) == 97
    assert (entry.kind, entry.reason, entry.note) == ("count", "short pack", "count C-0001")
    actions.reverse_posting(posting=entry, day=entry.day)
    assert on_hand(lot) == 100
    assert audit() == []


def test_line_that_agrees_posts_nothing():
    lot = stock(screws(), 100)
    count = started()
    counted(count, lot, 100)
    assert posted(count, reason="").state == "posted"
    assert Posting.objects.count() == 1


@pytest.mark.parametrize("agrees", [True, False], ids=["count agrees", "three are missing"])
def test_what_is_used_or_received_after_the_count_is_not_counted_twice(agrees):
    # what_goes_wrong of every stock-take during a running batch: common practice, no source.
    lot = stock(screws(), 100)
    count = started()
    counted(count, lot, 100 if agrees else 97)
    actions.issue_stock(item=lot.item, qty=D(40), day=timezone.localdate(), reason="repair")
    actions.return_stock(lot=lot, qty=D(5), day=timezone.localdate(), reason="repair")
    posted(count)
    assert on_hand(lot) == (65 if agrees else 62)
    assert audit() == []


def test_what_is_used_before_its_line_is_counted_is_no_difference():
    lot = stock(screws(), 100)
    count = started()
    actions.issue_stock(item=lot.item, qty=D(40), day=DAY, reason="repair")
    entered = counted(count, lot, 60)
    assert (entered.expected, entered.counted) == (60, 60)


def test_stock_that_left_more_than_was_counted_is_counted_again():
    lot = stock(screws(), 100)
    count = started()
    counted(count, lot, 10)
    actions.issue_stock(item=lot.item, qty=D(40), day=timezone.localdate(), reason="repair")
    with pytest.raises(NotEnough, match="lot L-0001 left Shop since it was counted"):
        posted(count)
    assert on_hand(lot) == 60
    assert count.lines.get().posting is None
    counted(count, lot, 60)
    posted(count)
    assert on_hand(lot) == 60


def test_same_loss_found_by_two_lists_is_posted_once():
    lot = stock(screws(), 100)
    first, second = started(), started()
    counted(second, lot, 97)
    counted(first, lot, 97)
    posted(first)
    with pytest.raises(WrongState, match=r"was counted by entry \d+, after this line"):
        posted(second)
    assert on_hand(lot) == 97
    counted(second, lot, 97)
    posted(second, reason="")
    assert on_hand(lot) == 97


def test_loss_posted_on_the_lot_itself_is_not_posted_by_the_list_again():
    lot = stock(screws(), 100)
    count = started()
    counted(count, lot, 97)
    actions.count_lot(lot=lot, place=where(lot), counted=D(97), day=DAY, reason="counted")
    with pytest.raises(WrongState, match="Count the line again"):
        posted(count)
    assert on_hand(lot) == 97


def test_lines_that_were_not_counted_stay_as_recorded():
    lot, other = stock(screws(), 100), stock(epoxy(), 500)
    count = started()
    counted(count, lot, 99)
    posted(count)
    assert on_hand(other) == 500


def test_each_line_has_its_own_reason_or_the_one_for_all():
    lots = [stock(screws(code), 10) for code in ("A", "B")]
    count = started()
    lines = [counted(count, lot, 9) for lot in lots]
    posted(count, "counted", reasons={lines[0].pk: "dropped or lost", lines[1].pk: ""})
    assert [each.posting.reason for each in count.lines.order_by("pk")] == [
        "dropped or lost",
        "counted",
    ]


def test_difference_without_a_reason_is_refused_and_nothing_is_posted():
    lots = [stock(screws(code), 10) for code in ("A", "B")]
    count = started()
    lines = [counted(count, lot, 9) for lot in lots]
    with pytest.raises(Refused, match="B: the count differs from the record. Say why"):
        posted(count, "", reasons={lines[0].pk: "dropped or lost"})
    assert [on_hand(lot) for lot in lots] == [10, 10]
    assert count.lines.filter(posting=None).count() == 2


def test_list_of_which_nothing_is_counted_is_not_posted():
    stock(screws(), 10)
    with pytest.raises(Refused, match="Nothing of count C-0001 is counted yet"):
        posted(started())


def test_line_to_be_counted_again_keeps_its_first_figure_and_holds_the_list_up():
    lot = stock(screws(), 100)
    count = started()
    entered = counted(count, lot, 79)
    actions.ask_recount(line=entered)
    with pytest.raises(WrongState, match="waits to be counted again"):
        posted(count)
    entered = counted(count, lot, 97)
    assert (entered.first_counted, entered.counted, entered.times) == (79, 97, 2)
    assert not entered.recount
    posted(count)
    assert on_hand(lot) == 97


def test_line_that_was_not_counted_is_not_counted_again():
    stock(screws(), 10)
    with pytest.raises(WrongState, match="isn't counted yet"):
        actions.ask_recount(line=started().lines.get())


def test_dropped_list_changes_nothing_and_takes_no_more_counts():
    lot = stock(screws(), 100)
    count = started()
    entered = counted(count, lot, 97)
    actions.drop_count(count=count)
    assert on_hand(lot) == 100
    for act, asked in [
        (actions.enter_count, {"line": entered, "counted": D(97)}),
        (actions.post_count, {"count": count, "reason": "counted"}),
        (actions.drop_count, {"count": count}),
    ]:
        with pytest.raises(WrongState, match="Count C-0001 is dropped"):
            act(**asked)


@pytest.mark.parametrize(
    ("qty", "refusal", "words"),
    [("-1", Refused, "below zero"), ("2.5", WrongUnit, "whole pieces")],
    ids=["negative", "half a screw"],
)
def test_figure_that_can_not_be_is_refused(qty, refusal, words):
    lot = stock(screws(), 100)
    count = started()
    with pytest.raises(refusal, match=words):
        counted(count, lot, qty)
    assert count.lines.get().counted is None


def test_count_below_what_a_batch_holds_is_posted_and_it_holds_what_is_left():
    lot = stock(screws(), 10)
    batch = in_work(simple_knife("TRAIL", line(lot.item, 4)), 2)
    count = started()
    counted(count, lot, 3)
    posted(count)
    assert on_hand(lot) == 3
    assert batch.reservations.get(is_open=True).qty == 3
    assert audit() == []


def test_pieces_are_there_shorter_or_gone():
    whole, short, gone = rack(bar(), 1000, 1000, 1000)
    count = started()
    measured(count, whole, 1000)
    measured(count, short, 940)
    measured(count, gone, 0)
    posted(count)
    assert [on_hand(piece) for piece in (whole, short, gone)] == [1000, 0, 0]
    assert short.remnants.get().length_um == 940 * MM
    assert on_hand(whole.lot) == 1940
    assert audit() == []


def test_sheet_that_lost_a_strip_is_measured_in_both_directions():
    (piece,) = rack(sheet(), (600, 300))
    count = started()
    assert measured(count, piece, 600, 250).counted == 150_000
    posted(count)
    assert on_hand(piece.lot) == 150_000


def test_piece_found_shorter_is_let_go_by_the_batch_that_held_it():
    steel = bar()
    (piece,) = rack(steel, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)
    count = started()
    measured(count, piece, 900)
    posted(count)
    assert not batch.reservations.filter(is_open=True).exists()
    assert audit() == []


@pytest.mark.parametrize(
    ("length", "width", "words"),
    [(1001, None, "received smaller"), (-5, None, "below zero"), (900, 40, "received smaller")],
    ids=["grown", "negative", "width of a bar"],
)
def test_piece_can_not_have_grown(length, width, words):
    (piece,) = rack(bar(), 1000)
    count = started()
    with pytest.raises(Refused, match=words):
        measured(count, piece, length, width)


def test_piece_is_not_counted_as_a_quantity_nor_a_quantity_as_a_piece():
    (piece,), lot = rack(bar(), 1000), stock(screws(), 5)
    count = started()
    with pytest.raises(WrongUnit, match="kept in pieces"):
        actions.enter_count(line=count.lines.get(piece=piece), counted=D(1000))
    with pytest.raises(WrongUnit, match="isn't kept in pieces"):
        actions.enter_piece(line=count.lines.get(lot=lot), length_um=0)


def test_piece_counted_as_gone_and_booked_out_afterwards_is_booked_once():
    (piece,) = rack(bar(), 1000)
    count = started()
    measured(count, piece, 0)
    actions.issue_piece(piece=piece, day=DAY, reason="one-off")
    posted(count)
    assert on_hand(piece) == 0
    assert count.lines.get().posting is None


def test_piece_counted_shorter_and_cut_afterwards_is_counted_again():
    (piece,) = rack(bar(), 1000)
    count = started()
    measured(count, piece, 940)
    actions.cut_piece(
        piece=piece,
        parts=[(500 * MM, None, 1)],
        remnants=[(400 * MM, None)],
        day=timezone.localdate(),
    )
    with pytest.raises(NotEnough, match="piece P-0001 left Shop since it was counted"):
        posted(count)
    assert on_hand(piece.lot) == 400


def test_found_piece_that_the_ledger_says_is_elsewhere_moves_here():
    here = place("Rack A")
    stock(screws(), 5, place=here)
    (piece,) = rack(bar(), 1000, place=place("Rack B"))
    count = started(place=here)
    added = actions.add_to_count(count=count, place=here, lot=piece.lot, piece=piece)
    actions.enter_piece(line=added, length_um=1000 * MM)
    posted(count, "found")
    assert where(piece.lot) == here
    assert on_hand(piece) == 1000


def test_found_piece_that_was_booked_out_comes_back():
    here = place("Rack A")
    stock(screws(), 5, place=here)
    (piece,) = rack(bar(), 1000)
    actions.issue_piece(piece=piece, day=DAY, reason="one-off")
    count = started(place=here)
    added = actions.add_to_count(count=count, place=here, lot=piece.lot, piece=piece)
    actions.enter_piece(line=added, length_um=1000 * MM)
    posted(count, "found")
    assert (on_hand(piece), where(piece.lot)) == (1000, here)


def test_found_lot_brings_its_other_places_to_the_list():
    here, there = place("Rack A"), place("Rack B")
    lot = stock(screws(), 100, place=there)
    stock(epoxy(), 5, place=here)
    count = started(place=here)
    actions.add_to_count(count=count, place=here, lot=lot)
    assert {each.place for each in count.lines.filter(lot=lot)} == {here, there}
    actions.enter_count(line=count.lines.get(lot=lot, place=here), counted=D(30))
    actions.enter_count(line=count.lines.get(lot=lot, place=there), counted=D(70))
    posted(count, "found")
    assert on_hand(lot) == 100
    assert lot.balances.get(place=here).qty == 30


def test_what_is_on_the_list_already_is_not_added_again():
    lot = stock(screws(), 100)
    count = started()
    assert actions.add_to_count(count=count, place=where(lot), lot=lot) == count.lines.get()


def test_found_without_a_label_is_a_new_lot_once_the_list_is_posted():
    here = place("Rack A")
    known = stock(screws(), 5, place=here, unit_cost=D("0.05"))
    count = started(place=here)
    added = actions.count_unlabelled(
        count=count, item=known.item, place=here, qty=D(40), why="bag behind the drawer"
    )
    assert on_hand(known.item) == 5
    posted(count, "found")
    assert on_hand(known.item) == 45
    lot = added.lot
    assert (lot.status, lot.unit_cost) == (Lot.Status.UNKNOWN, D("0.05"))
    assert lot.note == "found by count C-0001: bag behind the drawer"
    assert audit() == []


def test_found_bars_without_a_label_get_labels():
    steel = bar()
    (known,) = rack(steel, 1000)
    count = started()
    actions.count_unlabelled(
        count=count, item=steel, place=where(known.lot), pieces=[(400 * MM, None, 2)], why="rack"
    )
    posted(count, "found")
    assert on_hand(steel) == 1800
    assert [piece.label for piece in Lot.objects.last().pieces.all()] == ["P-0002", "P-0003"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"qty": D(0)}, "above zero"),
        ({"qty": D(4), "why": ""}, "where it was found"),
        ({"pieces": [(400 * MM, None, 1)]}, "isn't kept in pieces"),
        ({}, "how much"),
    ],
    ids=["nothing", "no reason", "a bar of screws", "no quantity"],
)
def test_unlabelled_find_that_can_not_be_is_refused(asked, words):
    lot = stock(screws(), 5)
    count = started()
    values = {"why": "floor", **asked}
    with pytest.raises(Refused, match=words):
        actions.count_unlabelled(count=count, item=lot.item, place=where(lot), **values)
    assert Lot.objects.count() == 1


def test_dropped_list_takes_its_unlabelled_finds_with_it():
    steel = bar()
    (known,) = rack(steel, 1000)
    count = started()
    actions.count_unlabelled(
        count=count, item=steel, place=where(known.lot), pieces=[(400 * MM, None, 2)], why="rack"
    )
    actions.drop_count(count=count)
    assert list(Lot.objects.all()) == [known.lot]
    assert count.lines.count() == 1


@pytest.mark.parametrize("end", [actions.drop_count, posted], ids=["dropped", "posted"])
def test_find_that_stands_on_another_list_too_stays_until_that_list_ends(end):
    known = stock(screws(), 5)
    first, second = started(), started()
    find = actions.count_unlabelled(
        count=first, item=known.item, place=where(known), qty=D(40), why="floor"
    )
    actions.add_to_count(count=second, place=where(known), lot=find.lot)
    counted(second, known, 5)
    end(count=second)
    posted(first, "found")
    assert on_hand(known.item) == 45
    assert audit() == []


def test_find_of_two_lists_that_are_dropped_goes_with_the_second():
    known = stock(screws(), 5)
    first, second = started(), started()
    find = actions.count_unlabelled(
        count=first, item=known.item, place=where(known), qty=D(40), why="floor"
    )
    actions.add_to_count(count=second, place=where(known), lot=find.lot)
    actions.drop_count(count=first)
    actions.drop_count(count=second)
    assert list(Lot.objects.all()) == [known]


def test_lot_counted_at_two_places_stays_held_when_it_only_lies_otherwise():
    lot = stock(screws(), 100, place=place("Rack A"))
    actions.move_stock(
        lot=lot, place_from=place("Rack A"), place_to=place("Rack B"), qty=D(40), day=DAY
    )
    batch = reserved(simple_knife("TRAIL", line(lot.item, 1)), 100)
    count = started()
    for where_it_lies, qty in ((place("Rack A"), 50), (place("Rack B"), 50)):
        actions.enter_count(line=count.lines.get(place=where_it_lies, piece=None), counted=D(qty))
    posted(count)
    assert [held.qty for held in batch.reservations.filter(is_open=True)] == [100]
    assert audit() == []


def test_many_differences_are_posted_in_as_many_questions_as_few():
    def questions_for(lines):
        lots = [stock(screws(f"SCREW-{lines}-{n}"), 10) for n in range(lines)]
        count = started()
        for lot in lots:
            counted(count, lot, 9)
        with CaptureQueriesContext(connection) as asked:
            posted(count)
        return len(asked)

    assert questions_for(3) == questions_for(12)
    assert Posting.objects.filter(kind="count").count() == 15
    assert audit() == []
