"""Signing in, the first run, people, units."""

import pytest
from django.urls import reverse

from inventory.models import Place, Shop, User
from tests import factories as make
from tests.visit import send_to

pytestmark = pytest.mark.django_db
FIRST_RUN = {
    "name": "Thornwick Knives",
    "currency": "EUR",
    "username": "wren",
    "password": "grind-7-bevels",
}


def test_without_an_account_the_door_leads_to_the_first_run(client):
    assert client.get("/sign-in/").url == "/welcome/"
    assert client.get("/welcome/").status_code == 200


def test_first_run_names_the_shop_and_signs_its_owner_in(client):
    assert send_to(client, "welcome", **FIRST_RUN).url == "/stock/"
    assert Shop.objects.get().name == "Thornwick Knives"
    assert User.objects.get().is_owner
    assert client.get("/stock/").context["user"].username == "wren"


def test_first_run_is_closed_once_there_is_an_owner(client, owner):
    assert client.get("/welcome/").url == "/sign-in/"
    assert send_to(client, "welcome", **FIRST_RUN).url == "/sign-in/"
    assert not Shop.objects.exists()


def test_common_password_is_refused_and_nothing_is_set_up(client):
    response = send_to(client, "welcome", **{**FIRST_RUN, "password": "password"})
    assert response.status_code == 422
    assert "too common" in response.content.decode()
    assert not User.objects.exists()


def test_stranger_is_sent_to_the_door(client, owner):
    assert client.get("/stock/").url == "/sign-in/?next=/stock/"


def test_sixth_wrong_password_locks_the_name_for_a_while(client, owner):
    wrong = {"username": "owner", "password": "wrong"}
    answers = [client.post("/sign-in/", wrong).status_code for _ in range(6)]
    assert answers[-1] == 429
    assert "15 minutes" in client.post("/sign-in/", wrong).content.decode()


def test_person_reads_lengths_in_the_unit_chosen(viewer_client):
    make.shop()
    bar = make.bar(thickness_um=4 * make.MM)
    assert "4 mm" in viewer_client.get(bar.get_absolute_url()).content.decode()
    send_to(viewer_client, "settings", length_unit="in", mass_unit="oz")
    assert "0.157 in" in viewer_client.get(bar.get_absolute_url()).content.decode()


def test_owner_adds_a_maker_and_gives_another_role(owner_client):
    person = {"username": "finch", "role": "maker", "password": "polish-3-edges"}
    assert send_to(owner_client, "person-new", **person).url == "/settings/"
    send_to(owner_client, "person", "finch", role="viewer", is_active="on")
    assert User.objects.get(username="finch").role == "viewer"


def test_only_owner_keeps_the_role(owner_client):
    response = send_to(owner_client, "person", "owner", role="viewer", is_active="on")
    assert response.status_code == 422
    assert "only owner" in response.content.decode()


def test_owner_changes_the_shops_figures(owner_client):
    make.shop()
    form = owner_client.get("/settings/shop/").context["form"]
    values = {name: form[name].value() for name in form.fields} | {"hour_cost": "42"}
    assert send_to(owner_client, "shop", **values).status_code == 302
    assert Shop.objects.get().hour_cost == 42


def test_owner_adds_a_place(owner_client):
    send_to(owner_client, "place-new", name="Drawer 7")
    assert Place.objects.filter(name="Drawer 7").exists()


@pytest.mark.parametrize("name", ["shop", "person-new", "place-new", "item-new", "supplier-new"])
def test_maker_meets_a_plain_refusal_at_the_owners_pages(maker_client, name):
    response = maker_client.get(reverse(name))
    assert response.status_code == 403
    assert "Only the owner" in response.content.decode()
