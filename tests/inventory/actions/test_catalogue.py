import pytest
from django.db import IntegrityError, transaction

from inventory import actions
from inventory.errors import Refused
from inventory.models import Item, Offer, Place
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


def test_vendor_gets_a_place_of_its_own():
    away = vendor("EMBER")
    assert Place.objects.get().supplier == away
    assert actions.save_supplier(values={"name": "Ember & Sons"}, supplier=away).places.count() == 1


def test_changed_pack_is_a_new_offer_and_the_old_one_ends_the_day_before():
    item = screws()
    box = offer(item, pack_qty=D(50))
    smaller = offer(item, pack_qty=D(40), day=DAY)
    box.refresh_from_db()
    assert (box.valid_to, box.preferred, box.pack_qty) == (days(-1), False, 50)
    assert (smaller.valid_to, smaller.preferred) == (None, True)


def test_second_offer_of_a_day_is_refused():
    item = screws()
    offer(item, day=DAY)
    with pytest.raises(Refused, match="already has an offer from 3 Mar 2025"):
        offer(item, day=DAY)


def test_preferred_offer_takes_the_mark_from_the_other_supplier():
    item = screws()
    first = offer(item, supplier("BRACKEN"))
    offer(item, supplier("GORSE"))
    first.refresh_from_db()
    assert (first.preferred, first.valid_to) == (False, None)


def test_pack_of_pieces_is_as_large_as_its_pieces():
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
def test_offer_that_can_not_be_is_refused(make, values, words):
    with pytest.raises(Refused, match=words):
        offer(make(), **values)
    assert not Offer.objects.exists()


def test_lead_time_beyond_all_dates_is_refused():
    with pytest.raises(Refused, match="quoted lead time in days: Ensure"):
        offer(screws(), lead_days=999_999_999)


def test_choices_are_added_and_the_usual_one_changes():
    save = actions.save_product
    knife = save(values={"code": "T", "name": "Trail"}, options=[("scales", "black", True)])
    save(values={}, product=knife, options=[("scales", "orange", True)])
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
