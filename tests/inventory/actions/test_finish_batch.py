"""Stages counted and batches finished: what is taken, given back and worn."""

import pytest

from inventory import actions
from inventory.actions import StageTally
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import Batch, Movement, Posting, Reservation
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    D,
    available,
    days,
    fitted,
    in_work,
    knife_shop,
    line,
    on_hand,
    only_line,
    operation,
    reserved,
    screws,
    simple_knife,
    stock,
)

pytestmark = pytest.mark.django_db


# Counting
def test_stages_are_counted_in_order_and_each_once():
    trail = knife_shop()
    batch = in_work(trail.knife, 4, start=6)
    with pytest.raises(WrongState, match="count Mill first"):
        actions.count_stage(
            line=only_line(batch), operation=operation(batch, "Glue"), scrapped=0, day=DAY
        )
    mill = {"line": only_line(batch), "operation": operation(batch, "Mill"), "day": DAY}
    assert actions.count_stage(**mill, scrapped=1, cause="chatter").good == 5
    with pytest.raises(WrongState, match="count Harden first"):
        actions.count_stage(**mill, scrapped=1)


@pytest.mark.parametrize("scrapped", [-1, 7])
def test_more_scrap_than_knives_is_refused(scrapped):
    batch = in_work(knife_shop().knife, 4, start=6)
    with pytest.raises(Refused, match="6 knives reached Mill"):
        actions.count_stage(
            line=only_line(batch),
            operation=operation(batch, "Mill"),
            scrapped=scrapped,
            day=DAY,
        )


def test_stage_counted_before_the_batch_started_is_refused():
    batch = in_work(knife_shop().knife, 4)
    with pytest.raises(Refused, match="was started on 3 Mar 2025"):
        actions.count_stage(
            line=only_line(batch), operation=operation(batch, "Mill"), scrapped=0, day=days(-1)
        )


# Finishing
def test_finish_charges_scrap_where_it_happened():
    trail = knife_shop()
    batch = in_work(trail.knife, 8, start=10)
    tallies = {
        (only_line(batch).pk, operation(batch, "Mill").pk): StageTally(2, "chatter"),
        (only_line(batch).pk, operation(batch, "Glue").pk): StageTally(1, "gap"),
    }
    actions.finish_batch(batch=batch, day=days(5), counts=tallies)
    finished = only_line(batch)
    assert (finished.good, finished.scrapped) == (7, 3)
    assert [stage.good for stage in finished.stages.all()] == [8, 8, 7, 7]
    # Paper: 8 knives were glued: 24 screws, two mixes of 40 g; milling wore 10 x 5 minutes.
    assert on_hand(trail.screws) == 200 - 24
    assert on_hand(trail.epoxy) == 500 - 80
    assert trail.cutter.fittings.get().life_used == 50
    assert audit() == []


def test_blocks_of_knives_scrapped_before_gluing_go_back():
    trail = knife_shop()
    batch = in_work(trail.knife, 8, start=10)
    taken = 12 - on_hand(trail.block)
    assert taken == 9  # 10 x 0.9 are expected to reach gluing
    mill = (only_line(batch).pk, operation(batch, "Mill").pk)
    actions.finish_batch(batch=batch, day=days(5), counts={mill: StageTally(4, "crash")})
    assert on_hand(trail.block) == 12 - 6
    assert Posting.objects.get(kind="return").reason == "left over"


def test_blocks_for_knives_that_did_better_than_planned_are_taken_too():
    trail = knife_shop()
    batch = in_work(trail.knife, 8, start=10)
    actions.finish_batch(batch=batch, day=days(5))
    assert on_hand(trail.block) == 12 - 10


def test_finish_gives_back_what_was_held_and_not_used():
    trail = knife_shop()
    batch = in_work(trail.knife, 8, start=10)
    actions.finish_batch(batch=batch, day=days(5))
    assert not Reservation.objects.filter(is_open=True).exists()
    assert available(trail.screws, days(5)) == on_hand(trail.screws)


def test_another_amount_than_the_bill_says_is_booked():
    trail = knife_shop()
    tape = screws("TAPE")
    stock(tape, 5)
    batch = in_work(trail.knife, 4, start=4)
    used = {trail.screws.pk: D(15), trail.epoxy.pk: D(0), tape.pk: D(2)}
    actions.finish_batch(batch=batch, day=days(5), used=used)
    assert (on_hand(trail.screws), on_hand(trail.epoxy), on_hand(tape)) == (185, 500, 3)


def test_negative_use_is_refused():
    trail = knife_shop()
    batch = in_work(trail.knife, 4)
    with pytest.raises(Refused, match="SCREW-M4: -3 used"):
        actions.finish_batch(batch=batch, day=days(5), used={trail.screws.pk: D(-3)})


def test_pieces_are_not_used_up_a_second_time_at_the_end():
    trail = knife_shop()
    batch = in_work(trail.knife, 4)
    with pytest.raises(Refused, match="BAR-4X40 was taken when batch B-0001 started"):
        actions.finish_batch(batch=batch, day=days(5), used={trail.bar.pk: D(240)})


def test_batch_is_finished_once():
    trail = knife_shop()
    batch = in_work(trail.knife, 4)
    copy = Batch.objects.get()
    actions.finish_batch(batch=batch, day=days(5))
    moved = Movement.objects.count()
    with pytest.raises(WrongState, match="is finished; only one that is in work"):
        actions.finish_batch(batch=copy, day=days(5))
    assert Movement.objects.count() == moved


def test_finish_before_the_start_is_refused():
    batch = in_work(knife_shop().knife, 4)
    with pytest.raises(Refused, match="was started on 3 Mar 2025, after 2 Mar 2025"):
        actions.finish_batch(batch=batch, day=days(-1))


def test_finish_that_lacks_one_thing_books_nothing():
    trail = knife_shop()
    batch = in_work(trail.knife, 4, start=4)
    lot = trail.epoxy.lots.get()
    actions.set_lot_status(lot=lot, status="rejected", note="gelled")
    moved = Movement.objects.count()
    with pytest.raises(NotEnough, match="EPOXY: 40 g asked for, 0 g free.*is rejected"):
        actions.finish_batch(batch=batch, day=days(5))
    batch.refresh_from_db()
    assert (batch.state, Movement.objects.count()) == ("in_work", moved)
    assert batch.reservations.filter(is_open=True).exists()


def test_count_during_a_batch_stays_right_after_it():
    trail = knife_shop()
    batch = in_work(trail.knife, 4, start=4)
    lot = trail.screws.lots.get()
    counted = {"lot": lot, "place": lot.balances.get().place, "day": days(2), "reason": "floor"}
    actions.count_lot(**counted, counted=D(190))
    actions.finish_batch(batch=batch, day=days(5))
    assert on_hand(trail.screws) == 190 - 12
    assert audit() == []


def test_batch_that_lost_stock_to_a_count_says_what_it_lacks_when_it_is_finished():
    trail = knife_shop()
    batch = in_work(trail.knife, 4, start=4)
    lot = trail.screws.lots.get()
    counted = {"lot": lot, "place": lot.balances.get().place, "day": days(2), "reason": "floor"}
    actions.count_lot(**counted, counted=D(11))
    with pytest.raises(NotEnough, match="12 asked for, 11 free and usable"):
        actions.finish_batch(batch=batch, day=days(5))
    actions.finish_batch(batch=batch, day=days(5), used={trail.screws.pk: D(11)})
    assert on_hand(trail.screws) == 0
    assert audit() == []


def test_wear_can_be_given_instead_of_the_bill():
    trail = knife_shop()
    cutter = trail.cutter.fittings.get()
    batch = in_work(trail.knife, 4)
    actions.finish_batch(batch=batch, day=days(5), wear={cutter.pk: D(7)})
    cutter.refresh_from_db()
    assert cutter.life_used == 7
    assert cutter.logs.get().batch == batch


def test_most_worn_of_two_fitted_cutters_goes_on():
    trail = knife_shop()
    worn = trail.cutter.fittings.get()
    actions.log_wear(fitting=worn, amount=D(30), day=days(-2))
    fresh = fitted(trail.cutter, "2", day=days(-2))
    actions.finish_batch(batch=in_work(trail.knife, 4, start=4), day=days(5))
    worn.refresh_from_db()
    fresh.refresh_from_db()
    assert (worn.life_used, fresh.life_used) == (50, 0)


def test_batch_held_a_second_time_uses_up_what_it_holds_now():
    # Its first lot was doubted when it was held again, and is good after all.
    item = screws()
    first, second = stock(item, 50, days(-5)), stock(item, 50, days(-3))
    batch = reserved(simple_knife("TRAIL", line(item, 2)), 4)
    actions.set_lot_status(lot=first, status="quarantine", note="thread gauge")
    actions.release_batch(batch=batch)
    actions.reserve_batch(batch=batch, day=DAY)
    actions.set_lot_status(lot=first, status="released", note="within size")
    actions.start_batch(batch=batch, day=DAY)
    actions.finish_batch(batch=batch, day=DAY)
    assert (on_hand(first), on_hand(second)) == (50, 42)
