"""Several people at once, each with a database connection of their own, on both engines."""

import threading
import uuid
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from django.db import connection

from inventory import actions
from inventory.actions.forecast_runs import queue_run
from inventory.errors import NotEnough, Refused, WrongState
from inventory.models import Batch, ForecastRun, Lot, Movement, OrderLine, Posting, Request
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    bill,
    cutter,
    days,
    fitted,
    line,
    made_part,
    offer,
    on_hand,
    order_line,
    plan,
    rack,
    screws,
    shop,
    simple_knife,
    step,
    stock,
    where,
)

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(deeds: Sequence[Callable[[], Any]]) -> list[Any]:
    """Do them all at the same moment; what each returned, or the exception it ended with."""
    outcomes: list[Any] = [None] * len(deeds)
    barrier = threading.Barrier(len(deeds))

    def run(place: int) -> None:
        try:
            connection.ensure_connection()
            barrier.wait()
            outcomes[place] = deeds[place]()
        except Exception as error:
            outcomes[place] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(deeds))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return outcomes


def refusals(outcomes: Sequence[Any]) -> list[Exception]:
    return [outcome for outcome in outcomes if isinstance(outcome, Exception)]


def test_last_bar_goes_once():
    (piece,) = rack(bar(), 1000)
    outcomes = at_once([lambda: actions.issue_piece(piece=piece, day=DAY, reason="one-off")] * 4)
    assert [type(refusal) for refusal in refusals(outcomes)] == [NotEnough] * 3
    assert on_hand(piece) == 0
    assert audit() == []


def test_last_screws_go_once():
    item = screws()
    stock(item, 10)
    outcomes = at_once(
        [lambda: actions.issue_stock(item=item, qty=D(6), day=DAY, reason="sample")] * 4
    )
    assert [type(refusal) for refusal in refusals(outcomes)] == [NotEnough] * 3
    assert on_hand(item) == 4
    assert audit() == []


def test_bar_is_cut_once_though_two_saws_reach_for_it():
    (piece,) = rack(bar(), 1000)

    def saw():
        return actions.cut_piece(
            piece=piece, parts=[(240 * MM, None, 1)], remnants=[(700 * MM, None)], day=DAY
        )

    outcomes = at_once([saw] * 3)
    assert [type(refusal) for refusal in refusals(outcomes)] == [NotEnough] * 2
    assert on_hand(piece.lot) == 700


def test_form_sent_twice_at_once_posts_once_and_shows_one_result():
    item, key = screws(), uuid.uuid4()
    outcomes = at_once([lambda: stock(item, 100, key=key)] * 4)
    assert refusals(outcomes) == []
    assert len({lot.pk for lot in outcomes}) == 1
    assert (on_hand(item), Lot.objects.count(), Request.objects.count()) == (100, 1, 1)


def test_form_that_takes_the_last_sent_twice_at_once_is_not_refused():
    item, key = screws(), uuid.uuid4()
    stock(item, 100)
    outcomes = at_once(
        [lambda: actions.issue_stock(item=item, qty=D(100), day=DAY, reason="sample", key=key)] * 4
    )
    assert refusals(outcomes) == []
    assert len({posting.pk for posting in outcomes}) == 1
    assert on_hand(item) == 0


def test_sixteen_people_work_without_an_error():
    """Deliveries, cuts, counts and made parts cross each other; each delivery is there once."""
    item, steel, part = screws(), bar(), made_part("BLOCK")
    bill(part, step(10, "", line(steel, 1, cut=(100 * MM, None)), line(item, 2)))
    lot = stock(item, 5000)
    pieces = rack(steel, *[1000] * 16)
    shelf = where(lot)
    delivered = Posting.objects.filter(kind="receive")
    before = delivered.count()

    def deliver():
        for _ in range(3):
            rack(steel, 1000, 1000)
            stock(item, 10)

    def saw(piece):
        return lambda: actions.cut_piece(
            piece=piece, parts=[(300 * MM, None, 1)], remnants=[(600 * MM, None)], day=DAY
        )

    def make():
        for _ in range(2):
            actions.make_part(item=part, qty=2, day=DAY)

    def recount():
        for counted in (6000, 7000):
            actions.count_lot(
                lot=lot, place=shelf, counted=D(counted), day=DAY, reason="cycle count"
            )

    outcomes = at_once(
        [deed for piece in pieces[:4] for deed in (deliver, saw(piece), make, recount)]
    )
    # Two who make parts may both have chosen a bar that the other one cut: that is refused.
    assert {type(refusal) for refusal in refusals(outcomes)} <= {NotEnough}
    assert delivered.count() - before == 4 * 6
    assert audit() == []


def test_sixteen_deliveries_get_sixteen_numbers():
    item = screws()
    outcomes = at_once([lambda: stock(item, 1)] * 16)
    assert refusals(outcomes) == []
    assert sorted(lot.number for lot in outcomes) == [f"L-{n:04}" for n in range(1, 17)]


def test_entry_is_reversed_once_by_two():
    stock(screws(), 100)
    posting = Posting.objects.get()
    outcomes = at_once([lambda: actions.reverse_posting(posting=posting, day=DAY)] * 3)
    assert [type(refusal) for refusal in refusals(outcomes)] == [WrongState] * 2
    assert Movement.objects.count() == 2


def test_two_batches_do_not_hold_the_same_bar():
    steel = bar()
    rack(steel, 500)
    knife = simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None)))
    batches = [plan(knife, 2), plan(knife, 2)]
    outcomes = at_once(
        [lambda batch=batch: actions.reserve_batch(batch=batch, day=DAY) for batch in batches]
    )
    assert [type(refusal) for refusal in refusals(outcomes)] == [NotEnough]
    assert Batch.objects.filter(state="reserved").count() == 1
    assert audit() == []


def test_batch_is_started_and_finished_once_by_two():
    item, steel = screws(), bar()
    stock(item, 100)
    rack(steel, 1000)
    plan(simple_knife("TRAIL", line(item, 3), line(steel, 1, cut=(240 * MM, None))), 2)
    for deed in (actions.reserve_batch, actions.start_batch, actions.finish_batch):
        outcomes = at_once([lambda deed=deed: deed(batch=Batch.objects.get(), day=DAY)] * 2)
        assert [type(refusal) for refusal in refusals(outcomes)] == [WrongState]
    assert on_hand(item) == 94
    assert audit() == []


def test_deliveries_against_one_order_line_add_up():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)), 4)
    outcomes = at_once(
        [
            lambda: actions.receive_delivery(
                item=item,
                qty=D(100),
                day=days(9),
                order_line=OrderLine.objects.select_related("order__supplier").get(pk=ordered.pk),
            )
        ]
        * 4
    )
    assert refusals(outcomes) == []
    ordered.refresh_from_db()
    assert (ordered.received_qty, ordered.closed) == (400, True)
    assert audit() == []


def test_delivery_and_cancellation_of_one_order_do_not_both_happen():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)))
    outcomes = at_once(
        [
            lambda: actions.receive_delivery(
                item=item, qty=D(100), day=days(9), order_line=ordered
            ),
            lambda: actions.cancel_order(order=ordered.order),
        ]
    )
    assert len(refusals(outcomes)) == 1
    assert all(isinstance(refusal, Refused) for refusal in refusals(outcomes))
    assert audit() == []


def test_wear_logged_by_sixteen_adds_up():
    fitting = fitted(cutter())
    outcomes = at_once([lambda: actions.log_wear(fitting=fitting, amount=D("0.1"), day=DAY)] * 16)
    assert refusals(outcomes) == []
    fitting.refresh_from_db()
    assert fitting.life_used == D("1.6")


def test_pocket_is_filled_once_by_two():
    item = cutter()
    stock(item, 5)
    old = fitted(item)
    outcomes = at_once([lambda: actions.swap(fitting=old, reason="worn", day=DAY)] * 2)
    assert [type(refusal) for refusal in refusals(outcomes)] == [WrongState]
    assert on_hand(item) == 3


def test_of_four_recalculations_at_once_one_is_queued():
    shop()
    screws()
    outcomes = at_once([lambda: queue_run(as_of=DAY)] * 4)
    assert [type(refusal) for refusal in refusals(outcomes)] == [Refused] * 3
    assert ForecastRun.objects.count() == 1
