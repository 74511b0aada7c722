"""Suppliers and their offers, and items as the owner enters them."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory import actions
from inventory.models import Item, Offer, Supplier
from tests import factories as make
from tests.visit import send_to

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


def item_form(client, page, /, *args):
    form = client.get(reverse(page, args=args)).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in sent.items() if value not in (None, False, "")}


def test_new_vendor_gets_a_place_of_its_own(owner_client):
    typed = {"code": "EMBER", "name": "Ember Heat", "is_vendor": "on", "order_fee": "25"}
    assert send_to(owner_client, "supplier-new", **typed).url == "/suppliers/EMBER/"
    assert Supplier.objects.get().places.get().name == "At Ember Heat"


def test_supplier_is_changed_and_a_taken_code_refused(owner_client):
    make.supplier("BRACKEN")
    make.supplier("SORREL")
    typed = {"code": "SORREL", "name": "Sorrel Fixings", "order_fee": "0"}
    send_to(owner_client, "supplier-edit", "SORREL", **typed)
    assert Supplier.objects.get(code="SORREL").name == "Sorrel Fixings"
    taken = send_to(owner_client, "supplier-edit", "SORREL", **{**typed, "code": "BRACKEN"})
    assert taken.status_code == 422


def test_list_says_who_sells_and_what_is_open(viewer_client):
    make.order(make.offer(make.screws()))
    row = viewer_client.get("/suppliers/?q=screw").context["table"].rows[0].record
    assert (row.offers_now, row.open_orders) == (1, 1)


def test_page_tells_how_punctual_deliveries_were(viewer_client):
    line = make.order_line(make.offer(make.screws(), lead_days=14))
    actions.receive_delivery(item=line.item, order_line=line, qty=make.D(1), day=make.days(17))
    page = viewer_client.get("/suppliers/BRACKEN/").content.decode()
    assert "0 of 1" in page
    assert "3 days late" in page


def test_offer_reads_packs_and_price_breaks(owner_client):
    typed = {
        "supplier": make.supplier().pk,
        "item": make.epoxy().pk,
        "pack_name": "can of 1 lb",
        "pack_qty": "1 lb",
        "pieces_per_pack": "1",
        "price_breaks": "42,50\nfrom 5: 39",
        "minimum_packs": "2",
        "lot_charge": "0",
        "lead_days": "21",
        "valid_from": "2025-01-01",
        "preferred": "on",
    }
    assert send_to(owner_client, "offer-new", **typed).url == "/stock/items/EPOXY/"
    offer = Offer.objects.get()
    assert offer.pack_qty == make.D("453.59237")  # 1 lb, NIST SP 811, appendix B (from memory)
    steps = offer.price_breaks.values_list("from_packs", "price")
    assert list(steps) == [(1, make.D("42.5")), (5, make.D(39))]


def test_offer_of_sheets_follows_from_the_piece(owner_client):
    typed = {
        "supplier": make.supplier().pk,
        "item": make.sheet().pk,
        "pack_name": "two sheets",
        "piece": "600 x 300 mm",
        "pieces_per_pack": "2",
        "price_breaks": "80",
        "minimum_packs": "1",
        "lot_charge": "0",
        "lead_days": "7",
        "valid_from": "2025-01-01",
    }
    send_to(owner_client, "offer-new", **typed)
    assert Offer.objects.get().pack_qty == 360_000


def test_price_that_is_no_number_is_refused(owner_client):
    response = send_to(owner_client, "offer-new", price_breaks="cheap")
    assert "is no price" in response.content.decode()
    assert not Offer.objects.exists()


def test_new_item_keeps_lengths_as_typed(owner_client):
    typed = {"code": "BAR-5X50", "name": "Flat bar 5 x 50", "kind": "bar", "stock_unit": "mm"}
    typed |= {"status": "active", "lot_match": "none", "revision": "1"}
    typed |= {"thickness_um": "3/16 in", "kerf_um": "1.5 mm", "keep_length_um": "150"}
    send_to(owner_client, "item-new", **typed)
    bar = Item.objects.get()
    assert (bar.thickness_um, bar.kerf_um, bar.keep_length_um) == (4762, 1500, 150_000)
    assert bar.trim_um == 0


def test_unit_that_does_not_fit_the_kind_is_refused(owner_client):
    typed = {"code": "BAR", "name": "Bar", "kind": "bar", "stock_unit": "g"}
    typed |= {"status": "active", "lot_match": "none", "revision": "1"}
    assert send_to(owner_client, "item-new", **typed).status_code == 422
    assert not Item.objects.exists()


def test_item_sent_back_as_it_stands_is_unchanged(owner_client):
    epoxy = make.epoxy(density_g_per_ml=make.D("1.15"), shelf_life_days=365)
    before = Item.objects.filter(pk=epoxy.pk).values().get()
    send_to(owner_client, "item-edit", "EPOXY", **item_form(owner_client, "item-edit", "EPOXY"))
    assert Item.objects.filter(pk=epoxy.pk).values().get() == before


def test_stock_unit_stays_once_something_moved(owner_client):
    make.stock(make.epoxy(), 10)
    sent = item_form(owner_client, "item-edit", "EPOXY") | {"stock_unit": "mL"}
    response = send_to(owner_client, "item-edit", "EPOXY", **sent)
    assert "its stock unit stays" in response.content.decode()
    assert Item.objects.get().stock_unit == "g"


def test_data_sheet_is_kept_and_handed_out_as_a_download(owner_client, viewer_client):
    make.epoxy(caution="Skin contact can sensitise.")
    sheet = SimpleUploadedFile("sheet.pdf", b"%PDF-1.4 text", "application/pdf")
    sent = item_form(owner_client, "item-edit", "EPOXY") | {"data_sheet": sheet}
    send_to(owner_client, "item-edit", "EPOXY", **sent)
    answer = viewer_client.get(reverse("data-sheet", args=["EPOXY"]))
    assert answer.headers["Content-Disposition"].startswith("attachment")
    assert b"".join(answer.streaming_content) == b"%PDF-1.4 text"


def test_data_sheet_of_another_kind_of_file_is_refused(owner_client):
    make.epoxy()
    sheet = SimpleUploadedFile("sheet.html", b"<script>", "text/html")
    sent = item_form(owner_client, "item-edit", "EPOXY") | {"data_sheet": sheet}
    response = send_to(owner_client, "item-edit", "EPOXY", **sent)
    assert "PDF or a picture" in response.content.decode()
    assert not Item.objects.get().data_sheet
