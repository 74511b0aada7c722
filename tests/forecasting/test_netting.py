from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.errors import OutOfRange
from forecasting.netting import fixed_quantity, net_requirements, record_of, whole_packs

QTY = st.integers(0, 200)
WEEKS = st.lists(st.tuples(QTY, QTY), min_size=1, max_size=30)


def test_release_before_the_first_period_is_past_due():
    record = net_requirements([5, 5, 5], [0, 0, 0], on_hand=5, lead=2)
    assert record.releases == (5, 0, 0)
    assert record.past_due == 5


def test_lead_time_longer_than_the_record_leaves_only_past_due_releases():
    record = net_requirements([5, 5], [0, 0], on_hand=0, lead=6)
    assert record.releases == (0, 0)
    assert record.past_due == 10


def test_receipt_for_several_periods_leaves_the_next_ones_nothing_to_need():
    record = record_of([10] * 4, [0, 0, 5, 0], [30, 0, 0, 0], on_hand=10, lead=1, safety_stock=5)
    assert record.net == (5, 0, 0, 0)
    assert record.projected == (30, 20, 15, 5)
    assert (record.releases, record.past_due) == ((0, 0, 0, 0), 30)


@given(WEEKS, QTY, st.integers(0, 8), QTY, st.integers(1, 50), st.integers(1, 4))
def test_every_record_adds_up(weeks, on_hand, lead, safety_stock, pack, minimum):
    gross, scheduled = zip(*weeks, strict=True)
    record = net_requirements(
        gross,
        scheduled,
        on_hand=on_hand,
        lead=lead,
        safety_stock=safety_stock,
        lot_rule=whole_packs(pack, minimum),
    )
    changes = [
        due + ordered - need
        for need, due, ordered in zip(gross, scheduled, record.receipts, strict=True)
    ]
    assert record.projected == tuple(accumulate(changes, initial=on_hand))[1:]
    assert all(stock >= safety_stock for stock in record.projected)
    assert all(
        order % pack == 0 and (not order or order >= minimum * pack) for order in record.receipts
    )
    assert sum(record.releases) + record.past_due == sum(record.receipts)
    for week, ordered in enumerate(record.receipts):
        assert week < lead or record.releases[week - lead] == ordered
        assert (ordered > 0) == (record.net[week] > 0)


def test_minimum_order_holds_for_the_smallest_need():
    rule = whole_packs(20, minimum=3)
    assert [rule(need) for need in (1, 60, 61)] == [60, 60, 80]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: net_requirements([1, 2], [0], on_hand=0, lead=1), "scheduled must have 2 periods"),
        (lambda: record_of([1], [0], [], on_hand=0, lead=1), "receipts must have 1 periods"),
        (lambda: net_requirements([1], [0], on_hand=0, lead=-1), "lead must not be negative"),
        (lambda: fixed_quantity(0), "lot must be above 0"),
        (lambda: whole_packs(5, 0), "minimum must be 1 or more"),
    ],
    ids=["length", "receipts", "lead", "lot", "minimum"],
)
def test_impossible_records_are_refused(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()
