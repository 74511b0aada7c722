"""Use outside batches, as one would add it up from the entries."""

from datetime import date

import pytest

from inventory import actions
from inventory.queries.outside_use import OutsideUse, outside_use
from tests.factories import (
    DAY,
    D,
    bar,
    days,
    in_work,
    line,
    place,
    rack,
    screws,
    simple_knife,
    stock,
)

pytestmark = pytest.mark.django_db
MARCH, APRIL, MAY = (date(2025, month, 1) for month in (3, 4, 5))


@pytest.fixture
def lot(db):
    return stock(screws(), 100, unit_cost=D("0.05"))


def issue(lot, qty, reason, day=DAY, **values):
    return actions.issue_stock(item=lot.item, qty=D(qty), day=day, reason=reason, **values)


def used(until=MAY):
    return [(use.month, use.reason, use.qty, use.value) for use in outside_use(until)]


def test_use_is_added_up_by_month_and_reason(lot):
    issue(lot, 2, "repair")
    issue(lot, 4, "repair", days(1))
    issue(lot, 10, "one-off", days(30))
    assert outside_use(MAY) == [
        OutsideUse(APRIL, "one-off", lot.item, D(10), D("0.5"), 1),
        OutsideUse(MARCH, "repair", lot.item, D(6), D("0.3"), 2),
    ]


def test_what_came_back_is_taken_off(lot):
    issue(lot, 6, "sample")
    actions.return_stock(lot=lot, qty=D(5), day=DAY, reason="sample")
    assert used() == [(MARCH, "sample", 1, D("0.05"))]


def test_what_came_back_whole_was_not_used(lot):
    issue(lot, 6, "sample")
    actions.return_stock(lot=lot, qty=D(6), day=DAY, reason="sample")
    assert used() == []


def test_entry_that_was_undone_is_no_use(lot):
    actions.reverse_posting(posting=issue(lot, 6, "sample"), day=DAY)
    assert used() == []


def test_what_batches_take_is_not_outside_of_them(lot):
    batch = in_work(simple_knife("TRAIL", line(lot.item, 3)), 4)
    issue(lot, 1, "batch", batch=batch)
    assert used() == []


def test_scrap_is_a_reason(lot):
    issue(lot, 7, "scrap")
    assert used() == [(MARCH, "scrap", 7, D("0.35"))]


@pytest.mark.parametrize(
    ("counted", "why", "reason", "qty"),
    [
        (97, "counted", "unexplained", 3),
        (97, "not booked", "unexplained", 3),
        (97, "dropped or lost", "dropped or lost", 3),
        (97, "short pack", "short pack", 3),
        (102, "found", "found", -2),
    ],
)
def test_count_that_differs_is_use_with_or_without_an_explanation(lot, counted, why, reason, qty):
    there = lot.balances.get().place
    actions.count_lot(lot=lot, place=there, counted=D(counted), day=DAY, reason=why)
    assert used() == [(MARCH, reason, qty, qty * D("0.05"))]


def test_bar_measured_shorter_counts_only_what_is_gone():
    piece = rack(bar(), 1000, unit_cost=D("0.02"))[0]
    actions.count_piece(piece=piece, length_um=700_000, day=DAY, reason="counted")
    assert used() == [(MARCH, "unexplained", 300, 6)]


def test_bar_cut_for_a_repair_counts_without_the_remnant_kept():
    piece = rack(bar(), 1000, unit_cost=D("0.02"))[0]
    cut = {"parts": [(200_000, None, 1)], "remnants": [(790_000, None)]}
    actions.cut_piece(piece=piece, day=DAY, reason="repair", **cut)
    assert used() == [(MARCH, "repair", 210, D("4.2"))]


def test_moving_and_receiving_is_no_use(lot):
    actions.move_stock(
        lot=lot, place_from=lot.balances.get().place, place_to=place("Bench"), qty=D(5), day=DAY
    )
    assert used() == []


def test_a_year_ends_with_the_month_asked_for(lot):
    issue(lot, 1, "repair")
    assert used(date(2026, 2, 28)) == [(MARCH, "repair", 1, D("0.05"))]
    assert used(date(2026, 3, 1)) == []
