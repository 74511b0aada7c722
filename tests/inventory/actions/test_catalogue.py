import pytest
from django.db import IntegrityError, transaction

from inventory import actions
from inventory.actions import RecordEntry
from inventory.errors import Refused
from inventory.models import Item, Offer, Place, Product, Supplier
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    cutter,
    days,
    epoxy,
    fitted,
    item,
    line,
    offer,
    product,
    screws,
    sheet,
    simple_knife,
    stock,
    supplier,
    vendor,
)

pytestmark = pytest.mark.django_db


def test_stock_unit_stays_once_something_moved():
    glue = epoxy()
    actions.save_item(values={"stock_unit": "mL"}, item=glue)
    stock(glue, 100)
    with pytest.raises(Refused, match="has movements in mL; its stock unit stays"):
        actions.save_item(values={"stock_unit": "g"}, item=glue)


@pytest.mark.parametrize("speak_of", [offer, lambda of: simple_knife("TRAIL", line(of, 20))])
def test_stock_unit_stays_once_a_bill_or_an_offer_speaks_in_it(speak_of):
    glue = epoxy()
    speak_of(glue)
    with pytest.raises(Refused, match="has bills or offers in g; its stock unit stays"):
        actions.save_item(values={"stock_unit": "mL"}, item=glue)


def test_life_unit_stays_once_one_was_fitted():
    mill = cutter()
    actions.save_item(values={"life_unit": "pieces"}, item=mill)
    stock(mill, 1)
    fitted(mill)
    with pytest.raises(Refused, match="has lives or bills in pieces; its life unit stays"):
        actions.save_item(values={"life_unit": "m"}, item=mill)


@pytest.mark.parametrize("kind", ["service", "made"])
def test_what_was_bought_into_stock_becomes_no_service_and_no_made_part(kind):
    bolt = screws()
    stock(bolt, 10)
    with pytest.raises(Refused, match="is used as a fastener; that stays"):
        actions.save_item(values={"kind": kind}, item=bolt)
    actions.save_item(values={"kind": "packaging"}, item=bolt)


@pytest.mark.parametrize(
    ("kind", "unit", "values"),
    [
        ("bar", "each", {}),
        ("sheet", "mm", {}),
        ("fastener", "mm", {}),
        ("cutter", "each", {"life_unit": "", "rated_life": D(5)}),
        ("cutter", "g", {"life_unit": "min"}),
        ("cutter", "each", {"life_unit": "min", "rated_life": D(9), "rated_shape": D(-2)}),
        ("cutter", "each", {"life_unit": "min", "rated_life": D(9), "rated_shape": D("0.001")}),
        ("adhesive", "g", {"shelf_life_days": 999_999_999}),
        ("abrasive", "each", {"grit_number": 400}),
        ("adhesive", "g", {"density_g_per_ml": D(0)}),
        ("fastener", "each", {"service_level": D("1")}),
        ("fastener", "each", {"code": ""}),
        ("nonsense", "each", {}),
    ],
    ids=[
        "bar by the piece",
        "sheet by length",
        "screws by length",
        "life without a unit",
        "cutter by weight",
        "negative shape",
        "shape near zero",
        "shelf life beyond all dates",
        "grit without its system",
        "no density",
        "certain service",
        "no code",
        "unknown kind",
    ],
)
def test_item_that_can_not_be_is_refused_in_words(kind, unit, values):
    with pytest.raises(Refused, match="Item not saved"):
        item(**{"code": "X", "kind": kind, "stock_unit": unit, **values})
    assert not Item.objects.exists()


def test_code_is_given_once():
    screws()
    with pytest.raises(Refused, match="already exists"):
        screws()


@pytest.fixture(params=["alone", "in a list"])
def way_in(request, monkeypatch):
    """The rules of an offer hold for one that is entered alone and for one that a list brings."""

    def listed(*, price_breaks, supplier, item, values, valid_from):
        new = actions.NewOffer(supplier, item, values, price_breaks, valid_from)
        actions.save_offers(offers=[new])
        return Offer.objects.get(supplier=supplier, item=item, valid_from=valid_from)

    if request.param == "in a list":
        monkeypatch.setattr(actions, "save_offer", listed)


@pytest.fixture(params=["alone", "in a list"])
def save_choices_of(request):
    """The same for choices of a product."""

    def listed(knife, *options):
        actions.save_choices(choices=[(knife, *option) for option in options])

    def alone(knife, *options):
        actions.save_product(values={}, product=knife, options=options)

    return listed if request.param == "in a list" else alone


def test_vendor_gets_a_place_of_its_own():
    away = vendor("EMBER")
    assert Place.objects.get().supplier == away
    assert actions.save_supplier(values={"name": "Ember & Sons"}, supplier=away).places.count() == 1


def test_changed_pack_is_a_new_offer_and_the_old_one_ends_the_day_before(way_in):
    item = screws()
    box = offer(item, pack_qty=D(50))
    smaller = offer(item, pack_qty=D(40), day=DAY)
    box.refresh_from_db()
    assert (box.valid_to, box.preferred, box.pack_qty) == (days(-1), False, 50)
    assert (smaller.valid_to, smaller.preferred) == (None, True)


def test_second_offer_of_a_day_is_refused(way_in):
    item = screws()
    offer(item, day=DAY)
    with pytest.raises(Refused, match="already has an offer from 3 Mar 2025"):
        offer(item, day=DAY)


def test_preferred_offer_takes_the_mark_from_the_other_supplier(way_in):
    item = screws()
    first = offer(item, supplier("BRACKEN"))
    offer(item, supplier("GORSE"))
    first.refresh_from_db()
    assert (first.preferred, first.valid_to) == (False, None)


def test_pack_of_pieces_is_as_large_as_its_pieces(way_in):
    packed = offer(bar(), piece_length_um=914 * MM, pieces_per_pack=5)
    assert packed.pack_qty == 4570
    sheets = offer(sheet(), piece_length_um=600 * MM, piece_width_um=300 * MM)
    assert (sheets.pack_qty, sheets.pieces_per_pack) == (180_000, 1)


@pytest.mark.parametrize(
    ("make", "values", "words"),
    [
        (bar, {}, "size of one piece"),
        (sheet, {"piece_length_um": 600 * MM}, "size of one piece"),
        (bar, {"piece_length_um": 600 * MM, "piece_width_um": 40 * MM}, "size of one piece"),
        (screws, {"price_breaks": [(10, D(1))]}, "price of a single pack"),
        (screws, {"price_breaks": [(1, D(1)), (1, D(2))]}, "already exists"),
        (screws, {"price_breaks": [(1, D(-1))]}, "price"),
        (screws, {"pack_qty": D(0)}, "Offer not saved"),
        (screws, {"minimum_packs": 0}, "Offer not saved"),
    ],
    ids=[
        "bar without length",
        "sheet without width",
        "bar with width",
        "no price of one",
        "two prices of one",
        "negative price",
        "empty pack",
        "no minimum",
    ],
)
def test_offer_that_can_not_be_is_refused(way_in, make, values, words):
    with pytest.raises(Refused, match=words):
        offer(make(), **values)
    assert not Offer.objects.exists()


def test_offers_of_one_list_follow_each_other_as_if_entered_one_by_one():
    bolt = screws()
    first, second = supplier("BRACKEN"), supplier("GORSE")
    pack = {"pack_qty": D(1), "lead_days": 14}
    actions.save_offers(
        offers=[
            actions.NewOffer(first, bolt, pack, [(1, D(9))], DAY),
            actions.NewOffer(second, bolt, pack, [(1, D(8))], DAY),
            actions.NewOffer(first, bolt, {**pack, "preferred": False}, [(1, D(7))], days(9)),
        ]
    )
    told = Offer.objects.order_by("pk").values_list("supplier__code", "preferred", "valid_to")
    assert list(told) == [
        ("BRACKEN", False, days(8)),
        ("GORSE", True, None),
        ("BRACKEN", False, None),
    ]


def test_one_offer_that_can_not_be_stops_its_whole_list():
    bolt = screws()
    before = offer(bolt)
    pack = {"pack_qty": D(1), "lead_days": 14}
    later = actions.NewOffer(supplier(), bolt, pack, [(1, D(9))], DAY)
    empty = actions.NewOffer(supplier(), bar(), pack, [(1, D(9))], DAY)
    with pytest.raises(Refused, match="BAR-4X40 is kept in pieces"):
        actions.save_offers(offers=[later, empty])
    assert list(Offer.objects.values_list("pk", "valid_to")) == [(before.pk, None)]


def test_lists_of_alike_records_ask_the_database_a_few_questions(django_assert_max_num_queries):
    bolts = [screws(f"BOLT-{n}") for n in range(100)]
    knife = product()
    pack = {"pack_qty": D(1), "lead_days": 14}
    wanted = [actions.NewOffer(supplier(), bolt, pack, [(1, D(9))], DAY) for bolt in bolts]
    with django_assert_max_num_queries(30):
        actions.save_offers(offers=wanted)
    vendors = [
        RecordEntry({"code": f"V-{n}", "name": f"Vendor {n}", "is_vendor": True})
        for n in range(100)
    ]
    with django_assert_max_num_queries(15):
        actions.save_suppliers(entries=vendors)
    with django_assert_max_num_queries(15):
        actions.save_choices(choices=[(knife, "scales", f"colour {n}", False) for n in range(100)])


def test_vendors_of_a_list_get_places_and_those_that_have_one_keep_it():
    ember = vendor("EMBER")
    new = {"code": "GORSE", "name": "Gorse Plating", "is_vendor": True}
    entries = [RecordEntry({"name": "Ember & Sons"}, ember), RecordEntry(new)]
    assert actions.save_suppliers(entries=entries) == 2
    assert set(Place.objects.values_list("name", "supplier__name")) == {
        ("At Ember Supply", "Ember & Sons"),
        ("At Gorse Plating", "Gorse Plating"),
    }


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"email": "nobody"}, "GORSE not saved. email: Enter a valid email address"),
        ({"name": ""}, "GORSE not saved. name: This field cannot be blank"),
        ({"code": "ember"}, "There is a supplier EMBER already"),
        ({"is_vendor": True, "name": "Ember Supply"}, "There is a place At Ember Supply already"),
    ],
    ids=["email", "no name", "code of another", "name of another vendor"],
)
def test_one_supplier_that_can_not_be_stops_its_whole_list(values, words):
    vendor("EMBER")
    sound = RecordEntry({"code": "HEATH", "name": "Heath"})
    wrong = RecordEntry({"code": "GORSE", "name": "Gorse", **values})
    with pytest.raises(Refused, match=words):
        actions.save_suppliers(entries=[sound, wrong])
    assert Supplier.objects.get().code == "EMBER"


def test_two_vendors_of_one_name_are_told_apart_by_another_name():
    vendor("EMBER")
    with pytest.raises(Refused, match="GORSE not saved. There is a place At Ember Supply already"):
        supplier("GORSE", name="Ember Supply", is_vendor=True)


def test_products_of_a_list_are_made_and_changed_together_or_not_at_all():
    trail = product("TRAIL")
    heath = RecordEntry({"code": "HEATH", "name": "Heath"})
    with pytest.raises(Refused, match="There is a product TRAIL already"):
        actions.save_products(entries=[heath, RecordEntry({"code": "trail", "name": "Trail"})])
    assert Product.objects.get() == trail
    actions.save_products(entries=[heath, RecordEntry({"active": False}, trail)])
    assert dict(Product.objects.values_list("code", "active")) == {"TRAIL": False, "HEATH": True}


def test_code_of_a_known_product_can_not_become_that_of_another_in_a_list():
    product("TRAIL")
    with pytest.raises(Refused, match="There is a product TRAIL already"):
        actions.save_products(entries=[RecordEntry({"code": "Trail"}, product("HEATH"))])


def test_lead_time_beyond_all_dates_is_refused(way_in):
    with pytest.raises(Refused, match="quoted lead time in days: Ensure"):
        offer(screws(), lead_days=999_999_999)


def test_choices_are_added_and_the_usual_one_changes(save_choices_of):
    knife = product("T")
    save_choices_of(knife, ("scales", "black", True))
    save_choices_of(knife, ("scales", "orange", True))
    assert {one.choice: one.is_default for one in knife.options.all()} == {
        "black": False,
        "orange": True,
    }


@pytest.mark.parametrize(
    "again",
    [lambda: screws("screw-M4"), lambda: supplier("ember"), lambda: product("trail")],
    ids=["item", "supplier", "product"],
)
def test_code_that_differs_by_capitals_alone_is_refused_naming_the_other(again):
    screws(), supplier("EMBER"), product("TRAIL")
    with pytest.raises(Refused, match="code: There is (SCREW-M4|EMBER|TRAIL) already; capitals"):
        again()


def test_capitals_of_a_records_own_code_can_be_changed():
    bolt = screws("screw-m4")
    actions.save_item(values={"code": "SCREW-M4"}, item=bolt)
    assert Item.objects.get().code == "SCREW-M4"


def test_database_keeps_two_codes_of_other_capitals_apart():
    screws()
    with pytest.raises(IntegrityError), transaction.atomic():
        Item.objects.create(code="screw-m4", name="twin", kind="fastener")
