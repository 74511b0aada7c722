import pytest

from inventory.actions.many_records import RecordEntry
from inventory.actions.save_items import save_items
from inventory.errors import Refused
from inventory.models import Item
from tests.factories import D, epoxy, screws, stock

pytestmark = pytest.mark.django_db

BOLT = {"code": "BOLT", "name": "bolt", "kind": "fastener", "stock_unit": "each"}


def test_new_and_changed_items_are_saved_together():
    glue = epoxy()
    entries = [RecordEntry(BOLT), RecordEntry({"name": "slow epoxy", "colour": "amber"}, glue)]
    assert save_items(entries=entries) == 2
    assert list(Item.objects.values_list("code", "name", "colour")) == [
        ("BOLT", "bolt", ""),
        ("EPOXY", "slow epoxy", "amber"),
    ]


@pytest.mark.parametrize(
    ("values", "match"),
    [
        ({"kind": "bar"}, "BOLT not saved. Bars and webbing are kept in mm"),
        ({"density_g_per_ml": D(0)}, "BOLT not saved. The density must be above zero"),
        ({"shelf_life_days": 999_999}, "BOLT not saved. shelf life days: .*less than or equal"),
        ({"name": "x" * 121}, "BOLT not saved. name: .*at most 120 characters"),
        ({"code": "SCREW-M4"}, "There is an item SCREW-M4 already"),
        ({"code": ""}, "An item not saved. code: "),
    ],
    ids=["unit of another kind", "density", "shelf life", "long name", "taken code", "no code"],
)
def test_one_item_that_cannot_be_saved_stops_them_all(values, match):
    screws()
    with pytest.raises(Refused, match=match):
        save_items(entries=[RecordEntry({**BOLT, "code": "NUT"}), RecordEntry({**BOLT, **values})])
    assert Item.objects.count() == 1


def test_one_code_twice_in_a_list_is_refused():
    with pytest.raises(Refused, match="There is an item BOLT already"):
        save_items(entries=[RecordEntry(BOLT), RecordEntry(BOLT)])


def test_stock_unit_of_what_has_moved_stays_in_a_list_too():
    glue = epoxy()
    stock(glue)
    with pytest.raises(Refused, match="EPOXY has movements in g; its stock unit stays"):
        save_items(entries=[RecordEntry({"stock_unit": "mL"}, Item.objects.get())])


def test_thousand_alike_items_ask_the_database_a_few_questions(django_assert_max_num_queries):
    entries = [RecordEntry({**BOLT, "code": f"BOLT-{n}"}) for n in range(1000)]
    with django_assert_max_num_queries(100):
        save_items(entries=entries)


def test_code_that_differs_by_capitals_alone_is_refused_naming_the_other():
    screws()
    with pytest.raises(Refused, match="There is an item SCREW-M4 already"):
        save_items(entries=[RecordEntry({**BOLT, "code": "screw-m4"})])
