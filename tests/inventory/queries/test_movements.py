"""The ledger as it is read: newest day first, narrowed along its indexes."""

import pytest
from django.db import connection

from inventory import actions
from inventory.models import Movement
from inventory.queries.movements import movements, movements_of, picked_from_few, search
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def ledger():
    """Screws and longer screws came and went, bars lie in two lots of one heat."""
    screws, longer, bar = make.screws("SCREW-M4"), make.screws("SCREW-M4-20"), make.bar()
    make.stock(screws, 100, make.days(-9), place=make.place("Drawer 3"))
    make.stock(longer, 100, make.days(-8))
    make.rack(bar, 1000, day=make.days(-7), maker_number="HEAT-77")
    make.rack(bar, 800, day=make.days(-6), maker_number="HEAT-77-B")
    actions.issue_stock(item=screws, qty=make.D(5), day=make.days(-5), reason="repair")
    return {"screws": screws, "longer": longer, "bar": bar}


def quantities(text):
    return [int(line.qty) for line in movements_of(movements(), search(text))]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("SCREW-M4", [-5, 100]),
        ("screw-m4-20", [100]),
        ("SCREW", [-5, 100, 100]),
        ("L-0002", [100]),
        ("HEAT-77", [800, 1000]),
        ("HEAT", [800, 1000]),
        ("nothing", []),
    ],
    ids=[
        "exact code",
        "small letters",
        "part of codes",
        "lot",
        "heat",
        "part of a heat",
        "nothing",
    ],
)
def test_search_finds_the_exact_name_before_what_contains_it(ledger, text, found):
    assert quantities(text) == found


def test_search_finds_a_piece_by_its_label(ledger):
    piece = ledger["bar"].lots.first().pieces.get()
    assert quantities(piece.label) == [1000]


def test_ledger_is_read_by_day_however_late_a_line_was_entered(ledger):
    make.stock(ledger["screws"], 7, make.days(-20))
    assert movements().last().qty == 7


def test_part_of_the_ledger_is_in_the_order_of_all_of_it(ledger):
    rows = movements().order_by("day", "pk")
    assert list(rows[1:4]) == list(rows)[1:4]


def test_few_rows_are_picked_by_a_common_value(ledger):
    few = movements_of(movements(), search("SCREW"))
    assert [line.qty for line in picked_from_few(few, "kind", "issue")] == [-5]
    elsewhere = Movement.objects.get(item=ledger["longer"]).place_id
    assert [line.qty for line in picked_from_few(few, "place", elsewhere)] == [100]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="reads SQLite's plans")
@pytest.mark.parametrize(
    "rows",
    [
        lambda one: movements(),
        lambda one: movements().filter(kind="issue"),
        lambda one: movements().filter(place=one.place_id),
        lambda one: movements().filter(day__gte=make.days(-6)),
        lambda one: movements().filter(item=one.item_id),
        lambda one: movements().filter(lot=one.lot_id),
        lambda one: picked_from_few(movements().filter(item=one.item_id), "kind", "issue"),
        lambda one: movements().order_by("day", "pk"),
    ],
    ids=["all", "kind", "place", "days", "item", "lot", "kind of an item", "oldest first"],
)
def test_page_of_the_ledger_is_read_along_an_index(ledger, rows):
    """No line is read that isn't shown, none is sorted: else a long ledger makes the page slow."""
    numbers = rows(Movement.objects.first()).select_related(None).values_list("pk")
    plan = super(type(numbers), numbers).__getitem__(slice(0, 51)).explain()
    assert "INDEX movement_" in plan
    assert "TEMP B-TREE" not in plan
