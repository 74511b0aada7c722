"""What batches cut of a bar against what became blades."""

from decimal import Decimal

import pytest

from inventory import actions
from inventory.queries.nest import nest_of
from tests.factories import DAY, MM, bar, line, rack, reserved, simple_knife

pytestmark = pytest.mark.django_db


@pytest.fixture
def steel(db):
    item = bar()
    rack(item, 1000)
    return item


@pytest.fixture
def batch(steel):
    """Two blades of 240 from 1000: 517 go back, so 483 are taken for 480 of blade."""
    return reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)


def test_item_that_no_batch_has_cut_has_no_nest(steel, batch):
    assert nest_of(steel) is None


def test_cuts_as_planned_yield_what_the_plan_said(steel, batch):
    actions.start_batch(batch=batch, day=DAY)
    nest = nest_of(steel)
    assert (nest.batches, nest.parts, nest.planned, nest.taken) == (1, 480, 483, 483)
    assert nest.real_yield == nest.planned_yield == Decimal(480) / 483


def test_blank_cut_twice_lowers_the_real_yield_only(steel, batch):
    piece = batch.reservations.get().piece
    actions.start_batch(batch=batch, day=DAY, kept={piece.label: [(275_500, None)]})
    nest = nest_of(steel)
    assert (nest.planned, nest.taken) == (483, Decimal("724.5"))


def test_cuts_that_were_undone_are_not_counted(steel, batch):
    actions.start_batch(batch=batch, day=DAY)
    actions.cancel_batch(batch=batch, day=DAY, note="never cut")
    actions.reverse_posting(posting=batch.postings.get(kind="cut"), day=DAY, note="wrong batch")
    assert nest_of(steel) is None
