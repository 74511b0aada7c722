"""Cuts and made parts at the start of a batch."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, Refused, WrongState
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    days,
    in_work,
    knife_shop,
    line,
    on_hand,
    place,
    plan,
    rack,
    reserved,
    screws,
    simple_knife,
    stock,
    vendor,
)

pytestmark = pytest.mark.django_db


def test_start_cuts_the_exact_fit_with_kerf_and_leaves_no_remnant():
    # Paper: 5 x 198.8 + 4 x 1.5 = 1000.0.
    steel = bar(kerf_um=1500)
    (piece,) = rack(steel, 1000)
    in_work(simple_knife("TRAIL", line(steel, 1, cut=(198_800, None))), 5)
    assert on_hand(steel) == 0
    assert not piece.remnants.exists()


def test_one_tenth_more_kerf_and_the_fifth_blade_does_not_come_out():
    # Paper: 5 x 198.8 + 4 x 1.6 = 1000.4.
    steel = bar(kerf_um=1600)
    rack(steel, 1000)
    with pytest.raises(NotEnough, match="BAR-4X40"):
        reserved(simple_knife("TRAIL", line(steel, 1, cut=(198_800, None))), 5)


def test_start_labels_the_remnant_with_its_parent():
    # Paper: 1000 - 2 x (240 + 1.5) = 517.
    steel = bar()
    (piece,) = rack(steel, 1000)
    in_work(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)
    remnant = piece.remnants.get()
    assert (remnant.length_um, remnant.lot) == (517 * MM, piece.lot)
    assert on_hand(steel) == 517


def test_allowance_on_both_sides_is_cut_too():
    # Paper: blank 240 + 2 x 2 = 244; 1000 - (244 + 1.5) = 754.5.
    steel = bar()
    rack(steel, 1000)
    in_work(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None), allowance_um=2 * MM)), 1)
    assert on_hand(steel) == D("754.5")


def test_batch_that_is_not_reserved_does_not_start():
    batch = plan(simple_knife("TRAIL", line(screws())))
    with pytest.raises(WrongState, match="is planned; only one that is reserved can be started"):
        actions.start_batch(batch=batch, day=DAY)


def test_start_takes_made_parts_from_stock_and_materials_of_the_rest():
    trail = knife_shop()
    actions.make_part(item=trail.sheath, qty=2, day=days(-5))
    plastic = on_hand(trail.thermoplastic)
    batch = in_work(trail.knife, 4, start=5)
    assert on_hand(trail.sheath) == 0
    assert on_hand(trail.thermoplastic) < plastic
    assert batch.postings.get(kind="issue").movements.count() == 2  # blocks, sheaths
    assert audit() == []


def test_start_in_the_future_is_refused():
    item = screws()
    stock(item, 100)
    batch = reserved(simple_knife("TRAIL", line(item)))
    with pytest.raises(Refused, match="in the future"):
        actions.start_batch(batch=batch, day=days(36500))
    batch.refresh_from_db()
    assert batch.state == "reserved"


def test_lot_put_in_quarantine_after_reserving_stops_the_start():
    steel = bar()
    (piece,) = rack(steel, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)
    actions.set_lot_status(lot=piece.lot, status="quarantine", note="hardness coupon")
    with pytest.raises(NotEnough, match="P-0001 is of lot L-0001, quarantine"):
        actions.start_batch(batch=batch, day=DAY)
    assert batch.reservations.filter(is_open=True).count() == 1


def test_piece_that_went_to_a_vendor_is_named_where_it_is():
    steel = bar()
    (piece,) = rack(steel, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)
    away = place("heat treater", supplier=vendor())
    actions.move_stock(lot=piece.lot, piece=piece, place_to=away, day=DAY)
    with pytest.raises(NotEnough, match=f"{piece.label} is at heat treater"):
        actions.start_batch(batch=batch, day=DAY)
