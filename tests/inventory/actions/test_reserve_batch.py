"""What a batch holds: pieces, lots and made parts, all of it or nothing."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, WrongState
from inventory.models import Batch, Reservation
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    available,
    bar,
    bill,
    days,
    epoxy,
    in_work,
    knife_shop,
    line,
    made_part,
    on_hand,
    place,
    plan,
    rack,
    reserved,
    screws,
    sheet,
    simple_knife,
    step,
    stock,
    vendor,
)

pytestmark = pytest.mark.django_db


# Reserving
def test_reserved_stock_is_not_available_to_the_next_batch():
    item = screws()
    stock(item, 30)
    knife = simple_knife("TRAIL", line(item, 3))
    reserved(knife, 6)
    assert available(item) == 12
    with pytest.raises(NotEnough, match="SCREW-M4 3"):
        reserved(knife, 5)
    assert Reservation.objects.count() == 1


def test_batch_is_reserved_once():
    item = screws()
    stock(item, 100)
    batch = reserved(simple_knife("TRAIL", line(item, 3)))
    with pytest.raises(WrongState, match="is reserved; only one that is planned"):
        actions.reserve_batch(batch=batch, day=DAY)
    assert batch.reservations.count() == 1


def test_stale_copy_of_a_batch_is_not_reserved_again():
    item = screws()
    stock(item, 100)
    batch = plan(simple_knife("TRAIL", line(item, 3)))
    copy = Batch.objects.get()
    actions.reserve_batch(batch=batch, day=DAY)
    with pytest.raises(WrongState, match="is reserved"):
        actions.reserve_batch(batch=copy, day=DAY)


def test_shortage_names_everything_that_is_short_and_holds_nothing():
    item, glue = screws(), epoxy()
    steel = bar()
    stock(item, 3)
    stock(glue, 5)
    rack(steel, 300)
    knife = simple_knife(
        "TRAIL", line(item, 3), line(glue, 10), line(steel, 1, cut=(240 * MM, None))
    )
    with pytest.raises(NotEnough) as refusal:
        reserved(knife, 4)
    for words in ("SCREW-M4 9", "EPOXY 35 g", "BAR-4X40"):
        assert words in str(refusal.value)
    assert not Reservation.objects.exists()
    assert Batch.objects.get().state == "planned"


def test_remnants_too_short_hold_up_a_batch_though_their_total_is_enough():
    steel = bar()
    rack(steel, *[180] * 5)
    knife = simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None)))
    with pytest.raises(NotEnough, match="BAR-4X40"):
        reserved(knife, 3)


def test_release_gives_everything_back_and_the_batch_can_be_reserved_again():
    trail = knife_shop()
    batch = reserved(trail.knife, 6)
    assert available(trail.screws) < 200
    actions.release_batch(batch=batch)
    assert available(trail.screws) == 200
    assert actions.reserve_batch(batch=batch, day=DAY).state == "reserved"


def test_block_that_must_cure_is_made_before_the_batch_is_reserved():
    # Paper: 20 x 0.9 = 18 reach gluing, 12 blocks are there.
    trail = knife_shop()
    with pytest.raises(NotEnough, match=r"make 6 BLOCK first; they are ready 1 day"):
        reserved(trail.knife, 16, start=20)


def test_part_at_a_vendor_is_not_on_the_rack():
    steel = bar()
    (piece,) = rack(steel, 1000)
    away = vendor().places.get()
    actions.move_stock(lot=piece.lot, piece=piece, place_to=away, day=DAY)
    with pytest.raises(NotEnough, match="BAR-4X40"):
        reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)


# Colours and heats
def test_handles_of_one_batch_come_from_one_colour_lot():
    scales = sheet("ORANGE", lot_match="batch")
    for _ in range(2):
        rack(scales, (210, 110))  # four scales of 100 x 50 each
    knife = simple_knife("TRAIL", line(scales, 2, cut=(100 * MM, 50 * MM)))
    with pytest.raises(NotEnough, match="ORANGE"):
        reserved(knife, 4)
    batch = reserved(knife, 2)
    assert batch.reservations.values("lot").distinct().count() == 1


def test_made_part_used_at_two_levels_is_held_once():
    base, mid = made_part("BASE"), made_part("MID")
    screw = screws()
    bill(base, step(10, "", line(screw, 2)))
    bill(mid, step(10, "", line(base, 1)))
    stock(screw, 100, days(-1))
    actions.make_part(item=base, qty=5, day=days(-1))
    batch = reserved(simple_knife("TRAIL", line(base), line(mid)), 4)
    held = {held.item.code: held.qty for held in batch.reservations.all()}
    # Paper: 4 + 4 BASE, 5 of them there, so 3 more of 2 screws each.
    assert held == {"BASE": 5, "SCREW-M4": 6}


def test_stock_of_a_batch_may_lie_in_several_places():
    item = screws()
    lot = stock(item, 10, place=place("Drawer"))
    actions.move_stock(
        lot=lot, place_from=place("Drawer"), place_to=place("Bench"), qty=D(4), day=DAY
    )
    batch = in_work(simple_knife("TRAIL", line(item, 3)), 3)
    actions.finish_batch(batch=batch, day=DAY)
    assert on_hand(item) == 1
    assert audit() == []
