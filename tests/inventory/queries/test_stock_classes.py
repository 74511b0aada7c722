"""Classes of items from a year of use; a forecast run writes them to the items."""

import pytest

from inventory import actions
from inventory.actions.class_items import class_items
from inventory.models import Item
from inventory.queries.stock_classes import stock_classes
from tests import factories as make

pytestmark = pytest.mark.django_db


def used(of, qty, ago):
    return actions.issue_stock(item=of, qty=make.D(qty), day=make.days(-ago), reason="repair")


@pytest.fixture
def items(db):
    dear, cheap, idle = make.screws("DEAR"), make.screws("CHEAP"), make.screws("IDLE")
    for item, cost in ((dear, "20"), (cheap, "0.1"), (idle, "5")):
        make.stock(item, 1000, make.days(-400), unit_cost=make.D(cost))
    for month in range(12):
        used(dear, 10, 30 * month + 10)
    used(cheap, 120, 50)
    return dear, cheap, idle


def test_item_is_classed_by_the_value_and_the_rhythm_of_its_use(items):
    dear, cheap, idle = items
    found = stock_classes(make.DAY)
    assert (found[dear.pk].value, found[dear.pk].use) == ("A", "X")
    assert (found[cheap.pk].value, found[cheap.pk].use) == ("C", "Z")
    assert (found[idle.pk].value, found[idle.pk].use) == ("C", "")


def test_use_that_was_undone_does_not_count(items):
    _, _, idle = items
    wrong = used(idle, 800, 80)
    assert stock_classes(make.DAY)[idle.pk].use == "Z"
    actions.reverse_posting(posting=wrong, day=make.DAY)
    assert stock_classes(make.DAY)[idle.pk].use == ""


def test_item_without_a_known_cost_has_no_value_class(items):
    free = make.screws("FREE")
    make.stock(free, 10, make.days(-200))
    used(free, 5, 100)
    assert stock_classes(make.DAY)[free.pk].value == ""


def test_nothing_is_classed_by_value_before_anything_is_used(db):
    lot = make.stock(make.screws(), 10, unit_cost=make.D(1))
    assert stock_classes(make.DAY)[lot.item_id].value == ""


def test_classes_are_written_to_the_items(items):
    class_items(as_of=make.DAY)
    rows = dict(Item.objects.values_list("code", "value_class"))
    assert rows == {"DEAR": "A", "CHEAP": "C", "IDLE": "C"}
