"""From a batch back to the heat, and from a heat to every batch: common practice, no source."""

import pytest

from inventory import actions
from inventory.models import Lot
from inventory.queries.trace import made_from, went_into
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def knives():
    """Two lots of sheet, of which blocks were made ahead; a batch in work took blocks and bar."""
    return make.knife_shop()


def told(lot):
    return [(str(one.into), one.qty) for one in went_into(lot)]


def test_lot_names_the_batches_that_took_from_it(knives):
    bar, batch = knives.bar.lots.get(), make.in_work(knives.knife)
    another = make.in_work(knives.knife, 2, make.days(3))
    (newest, first) = went_into(bar)
    assert (newest.into, first.into) == (another, batch)
    assert (newest.day, first.day) == (make.days(3), make.DAY)
    left = sum(balance.qty for balance in bar.balances.all())
    assert newest.qty + first.qty == 6000 - left


def test_what_a_batch_brought_back_is_not_what_it_took(knives):
    batch, screws = make.in_work(knives.knife), knives.screws
    taken = {"item": screws, "day": make.DAY, "reason": "batch", "batch": batch}
    actions.issue_stock(qty=make.D(5), **taken)
    undone = actions.issue_stock(qty=make.D(7), **taken)
    actions.reverse_posting(posting=undone, day=make.DAY)
    assert told(screws.lots.get()) == [(batch.number, 5)]


def test_use_outside_batches_is_no_batch(knives):
    actions.issue_stock(item=knives.screws, qty=make.D(5), day=make.DAY, reason="repair")
    assert told(knives.screws.lots.get()) == []


def test_made_part_names_the_lots_it_was_made_from_and_they_name_it(knives):
    sheet, block = knives.sheet.lots.get(), knives.block.lots.get()
    ((source, qty),) = made_from(block)
    assert source == sheet
    assert told(sheet) == [(block.number, qty)]
    assert qty > 24 * 120 * 40  # 12 blocks of two blanks


def test_each_lot_of_a_made_part_has_its_own_sources(knives):
    first = knives.block.lots.get()
    before = dict(made_from(first))
    (piece,) = make.rack(knives.sheet, (600, 300), day=make.days(-9), maker_number="LAM-2")
    for old in knives.sheet.lots.exclude(pk=piece.lot_id):
        actions.set_lot_status(lot=old, status=Lot.Status.QUARANTINE, note="warped")
    second = actions.make_part(item=knives.block, qty=2, day=make.days(-8))
    assert [lot for lot, _ in made_from(second)] == [piece.lot]
    assert dict(made_from(first)) == before
    assert [into for into, _ in told(piece.lot)] == [second.number]


def test_bought_lot_was_made_from_nothing(knives):
    assert made_from(knives.screws.lots.get()) == []


def test_lot_page_leads_both_ways(viewer_client, knives):
    sheet, block = knives.sheet.lots.get(), knives.block.lots.get()
    batch = make.in_work(knives.knife)
    page = viewer_client.get(block.get_absolute_url()).content.decode()
    assert batch.get_absolute_url() in page
    assert sheet.get_absolute_url() in page
    assert block.get_absolute_url() in viewer_client.get(sheet.get_absolute_url()).content.decode()
