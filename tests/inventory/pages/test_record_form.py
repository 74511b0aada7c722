"""One record open in two tabs: neither takes back what the other has saved."""

import uuid

import pytest
from django.urls import reverse

from inventory.models import Item, Product, Shop, Supplier
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


def opened(client, page, *args):
    """What a tab holds that shows the form now."""
    return as_typed(client.get(reverse(page, args=args)).context["form"])


def as_typed(form):
    sent = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in sent.items() if value not in (None, False, "")}


def send(client, page, args, tab, **typed):
    sent = {**tab, "key": uuid.uuid4(), **typed}
    return client.post(reverse(page, args=args), sent)


def test_tab_opened_earlier_keeps_what_another_changed_in_an_item(owner_client):
    make.bar(thickness_um=4_000)
    tab_1, tab_2 = (opened(owner_client, "item-edit", "BAR-4X40") for _ in range(2))
    one = {"thickness_um": "4.1 mm", "keep_length_um": "", "has_grain": "on"}
    assert send(owner_client, "item-edit", ["BAR-4X40"], tab_1, **one).status_code == 302
    answer = send(owner_client, "item-edit", ["BAR-4X40"], tab_2, note="two ends are rusty")
    assert answer.status_code == 302
    item = Item.objects.get()
    assert (item.thickness_um, item.keep_length_um, item.has_grain) == (4_100, 0, True)
    assert item.note == "two ends are rusty"


def test_two_part_system_survives_a_tab_opened_earlier(owner_client):
    hardener = make.epoxy("HARDENER")
    make.epoxy()
    tab_1, tab_2 = (opened(owner_client, "item-edit", "EPOXY") for _ in range(2))
    mixed = {"mixed_with": hardener.pk, "mix_share": "100 : 43"}
    send(owner_client, "item-edit", ["EPOXY"], tab_1, **mixed)
    send(owner_client, "item-edit", ["EPOXY"], tab_2, caution="Wear gloves.")
    item = Item.objects.get(code="EPOXY")
    assert (item.mixed_with, item.mix_share, item.caution) == (
        hardener,
        make.D("0.43"),
        "Wear gloves.",
    )


def test_same_field_changed_in_both_tabs_is_asked_again_and_then_written(owner_client):
    make.bar(thickness_um=4_000)
    tab_1, tab_2 = (opened(owner_client, "item-edit", "BAR-4X40") for _ in range(2))
    send(owner_client, "item-edit", ["BAR-4X40"], tab_1, thickness_um="4.1 mm", note="rusty")
    refused = send(owner_client, "item-edit", ["BAR-4X40"], tab_2, thickness_um="4.2 mm")
    assert refused.status_code == 422
    form = refused.context["form"]
    [told] = form.errors["thickness_um"]
    assert told.replace("\u202f", " ") == (
        "Meanwhile this was changed to “4.1 mm”. Save again to put yours in its place."
    )
    assert Item.objects.get().thickness_um == 4_100
    again = send(owner_client, "item-edit", ["BAR-4X40"], as_typed(form))
    assert again.status_code == 302
    assert (Item.objects.get().thickness_um, Item.objects.get().note) == (4_200, "rusty")


def test_same_change_in_both_tabs_is_no_quarrel(owner_client):
    make.bar(thickness_um=4_000)
    tab = opened(owner_client, "item-edit", "BAR-4X40")
    for _ in range(2):
        answer = send(owner_client, "item-edit", ["BAR-4X40"], tab, thickness_um="4.1 mm")
        assert answer.status_code == 302


def test_supplier_keeps_what_another_tab_changed(owner_client):
    make.supplier(email="old@bracken.example")
    tab_1, tab_2 = (opened(owner_client, "supplier-edit", "BRACKEN") for _ in range(2))
    send(owner_client, "supplier-edit", ["BRACKEN"], tab_1, email="new@bracken.example")
    send(owner_client, "supplier-edit", ["BRACKEN"], tab_2, order_fee="9.50")
    supplier = Supplier.objects.get()
    assert (supplier.email, supplier.order_fee) == ("new@bracken.example", make.D("9.5"))


def test_product_keeps_its_new_usual_choice(owner_client):
    make.product(options=[("Handle", "black", True), ("Handle", "orange", False)])
    tab_1, tab_2 = (opened(owner_client, "product-edit", "TRAIL") for _ in range(2))
    send(owner_client, "product-edit", ["TRAIL"], tab_1, choices="Handle: orange, black")
    send(owner_client, "product-edit", ["TRAIL"], tab_2, note="drop point")
    product = Product.objects.get()
    assert make.option(product, "orange").is_default
    assert product.note == "drop point"


def test_figures_of_the_shop_keep_what_another_tab_changed(owner_client):
    tab_1, tab_2 = (opened(owner_client, "shop") for _ in range(2))
    send(owner_client, "shop", [], tab_1, hour_cost="48")
    send(owner_client, "shop", [], tab_2, service_level="0.98")
    shop = Shop.objects.get()
    assert (shop.hour_cost, shop.service_level) == (48, make.D("0.98"))


@pytest.mark.parametrize("page", ["item-edit", "supplier-edit", "product-edit", "shop"])
def test_page_carries_what_it_showed(owner_client, page):
    make.bar("TRAIL")
    make.supplier("TRAIL")
    make.product("TRAIL")
    args = [] if page == "shop" else ["TRAIL"]
    assert 'name="opened"' in owner_client.get(reverse(page, args=args)).content.decode()
