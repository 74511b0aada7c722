"""Stock used, moved, thrown away, brought back and found by one tap on a lot, a piece or an item."""

import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import actions
from inventory.models import Balance, Piece, Posting
from inventory.pages.at_hand import chips
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


@pytest.fixture
def lot():
    return make.stock(make.screws(), 20)


@pytest.fixture
def piece():
    return make.rack(make.bar(), "304.8", place=make.place("Rack 2"))[0]


def tap(client, page, /, *args, **values):
    """A form of one tap: it says neither day nor note."""
    return client.post(reverse(page, args=args), {"key": uuid.uuid4(), **values}, follow=True)


def said(response):
    return " ".join(str(message) for message in response.context["messages"])


def summaries(client, record):
    page = client.get(record.get_absolute_url()).content.decode()
    return re.findall(r"<summary>(\w+)</summary>", page)


def amounts(item, user, most=None):
    return [chip.label for chip in chips(item, user, most and make.D(most))]


# What is offered


def test_counts_below_what_is_there_are_one_tap_and_so_is_all_of_it(maker):
    assert amounts(make.screws(), maker, "7") == ["1", "2", "3", "4", "5", "6", "all 7"]


def test_nothing_is_offered_of_what_is_not_there(maker):
    assert amounts(make.screws(), maker, "0") == []


def test_glue_is_offered_in_the_unit_of_the_reader(maker):
    assert amounts(make.epoxy(), maker, "20") == ["5 g", "10 g", "all 20 g"]
    maker.mass_unit = "oz"
    assert amounts(make.epoxy("GLUE"), maker, "20") == ["0.25 oz", "0.5 oz", "all 0.71 oz"]


def test_lot_offers_everything_that_is_done_by_hand(maker_client, lot):
    assert summaries(maker_client, lot) == ["Use", "Move", "Scrap", "Return", "Found"]


def test_viewer_is_offered_nothing(viewer_client, lot, piece):
    assert summaries(viewer_client, lot) == summaries(viewer_client, piece) == []


def test_item_of_several_lots_asks_which_lot_is_moved(maker_client, lot):
    make.stock(lot.item, 5)
    assert summaries(maker_client, lot.item)[:2] == ["Use", "Other"]


def test_piece_that_was_taken_offers_its_way_back(maker_client, piece):
    assert summaries(maker_client, piece) == ["Use", "Move", "Scrap"]
    actions.issue_piece(piece=piece, day=make.DAY, reason="sample")
    assert summaries(maker_client, piece) == ["Return", "Found"]


# What a tap does


def test_use_from_a_lot_takes_it_from_that_lot_and_leads_back_to_it(maker_client, lot):
    other = make.stock(lot.item, 20)
    response = tap(maker_client, "use", lot.item.code, lot=other.pk, qty="2", reason="repair")
    assert response.redirect_chain[0][0] == other.get_absolute_url()
    assert (make.on_hand(lot), make.on_hand(other)) == (20, 18)


def test_entry_can_be_undone_right_after_it(maker_client, lot):
    response = tap(maker_client, "use", lot.item.code, qty="2", reason="one-off")
    undo = reverse("entry-undo", args=[Posting.objects.first().pk])
    assert f'href="{undo}"' in said(response)
    maker_client.post(undo, {"key": uuid.uuid4(), "day": timezone.localdate()})
    assert make.on_hand(lot) == 20


def test_expired_lot_is_thrown_away_by_one_tap(maker_client):
    lot = make.stock(make.epoxy(), 100, expires_on=make.DAY)
    tap(maker_client, "use", "EPOXY", lot=lot.pk, qty="100 g", reason="scrap")
    assert make.on_hand(lot) == 0
    assert Posting.objects.first().kind == "scrap"


def test_lot_moves_to_a_vendor_by_one_tap(maker_client, lot):
    vendor = make.vendor().places.get()
    asked = {"place_from": make.where(lot).pk, "place_to": vendor.pk, "qty": "20"}
    response = tap(maker_client, "lot-move", lot.number, **asked)
    assert "20 moved to At Ember Supply" in said(response)
    assert make.where(lot) == vendor


def test_what_was_not_used_comes_back_to_its_lot(maker_client, lot):
    actions.issue_stock(item=lot.item, qty=make.D(6), day=make.DAY, reason="sample")
    response = tap(maker_client, "lot-return", lot.number, qty="2", reason="sample")
    assert "2 is back in lot L-0001" in said(response)
    assert make.on_hand(lot) == 16


def test_purpose_of_what_comes_back_is_that_of_what_was_taken(maker_client, lot):
    actions.issue_stock(item=lot.item, qty=make.D(6), day=make.DAY, reason="sample")
    hand = maker_client.get(lot.get_absolute_url()).context["hand"]
    assert hand.of_lot.taken_for == "sample"
    assert [chip.label for chip in hand.of_lot.returns][-1] == "all 6"


def test_more_than_is_out_does_not_come_back(maker_client, lot):
    response = tap(maker_client, "lot-return", lot.number, qty="2", reason="sample")
    assert response.status_code == 422
    assert make.on_hand(lot) == 20


def test_screws_found_behind_the_bench_are_in_the_lot_again(maker_client, lot):
    response = tap(maker_client, "lot-found", lot.number, qty="3")
    assert "3 more in lot L-0001 than was recorded" in said(response)
    assert make.on_hand(lot) == 23


def test_whole_piece_is_used_moved_and_brought_back_by_one_tap_each(maker_client, piece):
    tap(maker_client, "piece-move", piece.label, place_to=make.place("Bench").pk)
    assert Balance.objects.get(piece=piece).place.name == "Bench"
    tap(maker_client, "piece-use", piece.label, reason="sample")
    assert make.on_hand(piece) == 0
    response = tap(maker_client, "piece-return", piece.label, reason="sample")
    assert "Piece P-0001 is back" in said(response)
    assert Balance.objects.get(piece=piece).place.name == "Bench"


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_piece_that_turns_up_is_whole_whatever_unit_the_reader_chose(
    maker, maker_client, piece, unit
):
    maker.length_unit = unit
    maker.save()
    actions.count_piece(piece=piece, length_um=0, day=make.DAY, reason="counted")
    size = maker_client.get(piece.get_absolute_url()).context["hand"].size
    asked = {"there": "yes", "size": size, "reason": "found"}
    tap(maker_client, "piece-count", piece.label, **asked)
    assert (make.on_hand(piece), Piece.objects.count()) == (make.D("304.8"), 1)
