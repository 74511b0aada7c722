"""Stock of an item over time, its lots and its lines of descent."""

from datetime import timedelta

import pytest

from inventory import actions
from inventory.models import Item
from inventory.queries import stock as queries
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


def test_items_are_sorted_by_exact_stock(db):
    few, many = make.epoxy("A"), make.epoxy("B")
    make.stock(few, "0.1")
    make.stock(few, "0.2")
    make.stock(many, "0.300001")
    rows = queries.items_with_on_hand().order_by("-on_hand")
    assert [(row.code, row.on_hand) for row in rows] == [
        ("B", make.D("0.300001")),
        ("A", make.D("0.3")),
    ]


def test_unusable_agrees_with_what_a_lot_says_of_itself(db):
    lots = {
        "good": make.stock(make.epoxy("GOOD"), 1),
        "expired": make.stock(make.epoxy("OLD"), 1, expires_on=make.days(5)),
        "held": make.stock(make.epoxy("HELD"), 1, status="quarantine"),
        "curing": make.stock(make.epoxy("WET"), 1, usable_from=make.days(20)),
        "last day": make.stock(make.epoxy("LAST"), 1, expires_on=make.days(10)),
    }
    day = make.days(10)
    found = queries.with_unusable_stock(Item.objects.all(), day)
    assert {item.pk for item in found} == {
        lot.item_id for lot in lots.values() if lot.why_unusable(day)
    }


def test_lots_come_first_expired_first(db):
    epoxy = make.epoxy()
    late = make.stock(epoxy, 1, expires_on=make.days(90))
    never = make.stock(epoxy, 1)
    soon = make.stock(epoxy, 1, expires_on=make.days(30))
    assert list(queries.lots_here(epoxy)) == [soon, late, never]


def test_line_of_a_remnant_leads_back_to_the_bar(db):
    piece = make.rack(make.bar(), 1000)[0]
    for length in (700, 400):
        actions.cut_piece(
            piece=piece,
            parts=[(240 * make.MM, None, 1)],
            remnants=[(length * make.MM, None)],
            day=make.DAY,
        )
        piece = piece.remnants.get()
    assert [one.length_um // make.MM for one in queries.line_of(piece)] == [1000, 700, 400]


def test_where_used_names_products_parts_and_wear(db):
    knives = make.knife_shop()
    assert [use.owner.code for use in queries.uses_of(knives.sheet)] == ["BLOCK"]
    (wear,) = queries.uses_of(knives.cutter)
    assert (wear.owner.code, wear.wears, wear.line.life_per_knife) == ("TRAIL", True, 5)


def test_retired_bill_is_no_use(db):
    screws = make.screws()
    knife = make.simple_knife("TRAIL", make.line(screws, 3))
    make.bill(knife, make.step(10, "Rivet"), day=make.LAST_YEAR + timedelta(days=1))
    assert queries.uses_of(screws) == []
