"""Parts made in house ahead of a batch: what they take, when they are usable, what they cost."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, Refused
from inventory.models import Lot, Movement
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bill,
    days,
    epoxy,
    line,
    made_part,
    on_hand,
    rack,
    screws,
    sheet,
    step,
    stock,
)

pytestmark = pytest.mark.django_db


def block(wait_days=1, **values):
    """A block of 3 layers of 120 x 40 mm with 10 g of epoxy."""
    layers, glue, made = sheet(), epoxy(), made_part("BLOCK", **values)
    laminate = step(
        10,
        "Laminate",
        line(layers, 3, cut=(120 * MM, 40 * MM)),
        line(glue, 10),
        wait_days=wait_days,
    )
    bill(made, laminate)
    return made, layers, glue


def test_part_takes_its_materials_and_cures_before_use():
    made, layers, glue = block()
    rack(layers, (600, 300))
    stock(glue, 100)
    lot = actions.make_part(item=made, qty=4, day=DAY)
    assert on_hand(glue) == 60
    assert on_hand(layers) < 600 * 300
    assert lot.why_unusable(DAY) == "curing until 4 Mar 2025"
    assert lot.why_unusable(days(1)) == ""
    assert audit() == []


def test_part_without_waiting_is_usable_at_once():
    made, layers, glue = block(wait_days=0)
    rack(layers, (600, 300))
    stock(glue, 100)
    assert actions.make_part(item=made, qty=4, day=DAY).why_unusable(DAY) == ""


def test_materials_of_the_failed_ones_are_used_too():
    made, layers, glue = block()
    rack(layers, (600, 300))
    stock(glue, 100)
    actions.make_part(item=made, qty=4, start=6, day=DAY)
    assert (on_hand(glue), on_hand(made)) == (40, 4)


def test_part_costs_what_its_materials_cost_kerf_and_waste_included():
    # Paper: a sheet of 120 x 124 gives 3 layers of 40 with 2 kerfs of 2: nothing is left.
    made, layers, glue = block()
    rack(layers, (120, 124), unit_cost=D("0.001"))
    stock(glue, 10, unit_cost=D("0.04"))
    lot = actions.make_part(item=made, qty=1, day=DAY)
    assert lot.unit_cost == 120 * 124 * D("0.001") + 10 * D("0.04")


def test_part_inside_a_part_comes_from_stock_first():
    pin, plate, core = screws("PIN"), made_part("PLATE"), made_part("CORE")
    bill(plate, step(10, "", line(pin, 2)))
    bill(core, step(10, "", line(plate, 1)))
    stock(pin, 100)
    actions.make_part(item=plate, qty=3, day=DAY)
    actions.make_part(item=core, qty=5, day=DAY)
    # Paper: 3 plates were there; 3 x 2 pins for them, 2 x 2 for the rest.
    assert (on_hand(plate), on_hand(pin), on_hand(core)) == (0, 90, 5)


def test_part_inside_a_part_that_must_cure_is_made_first():
    pin, plate, core = screws("PIN"), made_part("PLATE"), made_part("CORE")
    bill(plate, step(10, "", line(pin, 2), wait_days=1))
    bill(core, step(10, "", line(plate, 1)))
    stock(pin, 100)
    with pytest.raises(NotEnough, match="CORE: make 5 PLATE first"):
        actions.make_part(item=core, qty=5, day=DAY)


def test_part_short_of_one_material_books_nothing():
    made, layers, glue = block()
    rack(layers, (600, 300))
    stock(glue, 39)
    moved = Movement.objects.count()
    with pytest.raises(NotEnough, match="EPOXY: 40 g asked for, 39 g free"):
        actions.make_part(item=made, qty=4, day=DAY)
    assert Movement.objects.count() == moved
    assert not Lot.objects.filter(item=made).exists()


@pytest.mark.parametrize(("qty", "start"), [(0, None), (-1, None), (4, 3)])
def test_numbers_that_can_not_be_are_refused(qty, start):
    made, *_ = block()
    with pytest.raises(Refused, match="can't be. Check both numbers"):
        actions.make_part(item=made, qty=qty, start=start, day=DAY)


def test_part_without_bill_is_not_made():
    with pytest.raises(Refused, match="BLOCK has no active bill"):
        actions.make_part(item=made_part("BLOCK"), qty=1, day=DAY)
