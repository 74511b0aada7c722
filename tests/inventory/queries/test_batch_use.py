"""What a batch in work really takes, by the knives that reached each step."""

import pytest

from inventory import actions
from inventory.queries.batch_use import (
    WearDone,
    built_so_far,
    made_parts_due,
    made_parts_used,
    proposed_use,
    proposed_wear,
)
from inventory.queries.bills import made_bills
from tests.factories import DAY, in_work, knife_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def trail(db):
    return knife_shop()


def count(batch, *scrapped):
    line = batch.lines.get()
    operations = line.bill.operations.all()
    for operation, lost in zip(operations, scrapped, strict=False):
        actions.count_stage(line=line, operation=operation, scrapped=lost, day=DAY)


def use_of(batch):
    return {
        item.code: qty
        for item, qty in proposed_use(built_so_far(batch), made_parts_used(batch), made_bills())
    }


def test_uncounted_batch_is_taken_as_all_good(trail):
    batch = in_work(trail.knife, 8, start=10)
    (build,) = built_so_far(batch)
    assert build.entering == (10, 10, 10, 10)


def test_counted_stages_say_who_entered_the_next(trail):
    batch = in_work(trail.knife, 8, start=10)
    count(batch, 2, 1)
    (build,) = built_so_far(batch)
    assert build.entering == (10, 8, 7, 7)
    # Paper: 7 knives x 3 screws, two mixes of 40 g.
    assert use_of(batch) == {"SCREW-M4": 21, "EPOXY": 80}


def test_batch_that_lost_every_knife_early_uses_nothing_late(trail):
    batch = in_work(trail.knife, 8, start=10)
    count(batch, 10)
    assert not any(use_of(batch).values())


def test_pieces_are_not_proposed_because_they_were_cut(trail):
    batch = in_work(trail.knife, 8)
    assert trail.bar.code not in use_of(batch)


def test_made_parts_are_what_the_start_took(trail):
    batch = in_work(trail.knife, 8, start=10)
    assert made_parts_used(batch) == {"BLOCK": 9}


@pytest.mark.parametrize(
    ("scrapped", "due"),
    [(0, 1), (1, 0), (4, -3), (10, -9)],
    ids=["all good", "as planned", "few", "none"],
)
def test_made_parts_are_due_for_more_knives_and_go_back_for_fewer(trail, scrapped, due):
    batch = in_work(trail.knife, 8, start=10)
    count(batch, scrapped)
    found = made_parts_due(built_so_far(batch), made_parts_used(batch), made_bills())
    assert {item.code: qty for item, qty in found}.get("BLOCK", 0) == due


def test_wear_is_proposed_on_what_is_fitted(trail):
    batch = in_work(trail.knife, 8, start=10)
    (wear,) = proposed_wear(built_so_far(batch), made_parts_used(batch), made_bills(), WearDone())
    assert (wear.item, wear.life, wear.fitting.label) == (trail.cutter, 50, "T-0001")


def test_wear_without_anything_fitted_names_no_fitting(trail):
    batch = in_work(trail.knife, 8, start=10)
    actions.remove(fitting=trail.cutter.fittings.get(), reason="lost", day=DAY)
    (wear,) = proposed_wear(built_so_far(batch), made_parts_used(batch), made_bills(), WearDone())
    assert (wear.life, wear.fitting) == (50, None)
