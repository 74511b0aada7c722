"""Suppliers, offers, products, choices and past builds from a file."""

from datetime import date

import pytest
from django.utils import timezone

from inventory.exchange.tables import table_named
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.table import Found
from inventory.models import Offer, PastBuild, ProductOption, Supplier
from tests import factories as make
from tests.factories import D

pytestmark = pytest.mark.django_db


def check(name: str, text: str) -> Found:
    return check_file(table_named(name), text.encode())


def save(name: str, text: str) -> int:
    return save_found(table_named(name), check(name, text))


OFFERS = "supplier;item;contents;prices;lead days;from\n"


def test_vendor_from_a_list_gets_its_place():
    save("suppliers", "code;name;works on our parts;order fee\nEMBER;Ember Heat;ja;6,50\n")
    vendor = Supplier.objects.get()
    assert (vendor.order_fee, vendor.places.get().name) == (D("6.5"), "At Ember Heat")


def test_offer_with_price_breaks_is_read():
    make.supplier(), make.screws()
    save("offers", OFFERS + 'BRACKEN;SCREW-M4;100;"12,40; from 5: 11";10;2025-01-15\n')
    offer = Offer.objects.get()
    assert (offer.pack_qty, offer.lead_days, offer.valid_from) == (100, 10, date(2025, 1, 15))
    assert [offer.price_at(packs) for packs in (1, 4, 5)] == [D("12.4"), D("12.4"), D(11)]
    assert offer.preferred


def test_changed_price_is_a_new_offer_from_its_day_on():
    make.supplier(), make.screws()
    save("offers", OFFERS + "BRACKEN;SCREW-M4;100;12.40;10;2025-01-15\n")
    changed = OFFERS + "BRACKEN;SCREW-M4;100;13;10;2025-06-01\n"
    [change] = check("offers", changed).to_save
    assert change.differences == (("prices", "12.4", "13"),)
    save("offers", changed)
    assert list(Offer.objects.order_by("pk").values_list("valid_to", flat=True)) == [
        *[date(2025, 5, 31), None],
    ]
    assert check("offers", changed).to_save == []


def test_second_supplier_of_an_item_is_second_choice_unless_it_says_so():
    make.supplier("BRACKEN"), make.supplier("FERN"), make.screws()
    text = OFFERS + "BRACKEN;SCREW-M4;100;12;10;\nFERN;SCREW-M4;100;11;10;\n"
    save("offers", text)
    assert dict(Offer.objects.values_list("supplier__code", "preferred")) == {
        "BRACKEN": True,
        "FERN": False,
    }
    assert check("offers", text).to_save == []


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("NOBODY;SCREW-M4;100;12;10;", "There is no supplier NOBODY"),
        ("BRACKEN;NONE;100;12;10;", "There is no item NONE"),
        ("BRACKEN;SCREW-M4;100;dear;10;", "“dear” is no price"),
        ("BRACKEN;SCREW-M4;100;from 5: 9;10;", "Give the price of a single pack first"),
        ("BRACKEN;SCREW-M4;100;-1;10;", "A price is below zero"),
        ("BRACKEN;SCREW-M4;;12;10;", "is new here: it needs contents"),
        ("BRACKEN;SCREW-M4;0;12;10;", "pack"),
        ("BRACKEN;SCREW-M4;100;12;99999;", "quoted lead time in days"),
        ("BRACKEN;BAR-4X40;12 x 12;12;10;", "give a length for bars and rolls"),
        ("BRACKEN;SHEATH;1;12;10;", "is made in house; nobody offers it"),
    ],
)
def test_offer_that_cannot_be_is_refused(row, reason):
    make.supplier(), make.screws(), make.bar(), make.made_part()
    found = check("offers", OFFERS + row + "\n")
    assert reason in found.refusals[0].reason
    assert not Offer.objects.exists()


def test_choices_are_added_and_the_usual_one_changes():
    make.product("NECK", [("handle", "black", True)])
    text = "product,group,choice,usual\nNECK,handle,orange,yes\nNECK,handle,black,no\n"
    states = [change.state for change in check("choices", text).changes]
    assert states == ["new", "changed"]
    save("choices", text)
    assert dict(ProductOption.objects.values_list("choice", "is_default")) == {
        "black": False,
        "orange": True,
    }
    assert check("choices", text).to_save == []


def test_two_usual_choices_of_a_group_are_refused():
    make.product("NECK")
    found = check("choices", "product,group,choice,usual\nNECK,a,b,yes\nNECK,a,c,yes\n")
    assert [(refusal.row, refusal.column) for refusal in found.refusals] == [(3, "usual")]


BUILDS = "product,day,started,good\nTRAIL,5.3.2024,12,11\nTRAIL,6.3.2024,8,\n"


def test_builds_of_the_past_are_recorded_once():
    make.product()
    assert save("builds", BUILDS) == 2
    assert list(PastBuild.objects.values_list("started", "good")) == [(12, 11), (8, 8)]
    assert check("builds", BUILDS).to_save == []


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("NONE,2024-03-05,4,4", "There is no product NONE"),
        ("TRAIL,2024-03-06,4,5", "5 good of 4 started doesn't add up"),
        ("TRAIL,2024-03-05,,4", "Every row needs started; it is empty here"),
        ("TRAIL,2024-03-05,12,10", "is recorded already, 11 good of 12. Leave it out"),
        (f"TRAIL,{timezone.localdate().year + 1}-01-01,4,4", "is in the future"),
    ],
    ids=["no product", "too many good", "none started", "other figures", "to come"],
)
def test_build_that_cannot_have_been_is_refused(row, reason):
    make.product()
    save("builds", "product,day,started,good\nTRAIL,2024-03-05,12,11\n")
    [refusal] = check("builds", f"product,day,started,good\n{row}\n").refusals
    assert reason in refusal.reason


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("offers", OFFERS + "bracken;screw-m4;100;12.40;10;2025-01-15\n"),
        ("choices", "product,group,choice\ntrail,Handle,black\n"),
        ("builds", "product,day,started\ntrail,2024-03-05,4\n"),
        ("suppliers", "code,order fee\nbracken,6.50\n"),
        ("products", "code,note\ntrail,drop point\n"),
    ],
    ids=["offers", "choices", "builds", "suppliers", "products"],
)
def test_codes_are_found_whatever_their_capitals(name, text):
    make.supplier("BRACKEN"), make.screws(), make.product("TRAIL")
    assert save(name, text) == 1
