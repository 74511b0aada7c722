"""From a label to its record."""

import pytest
from django.urls import reverse

from inventory.queries.labels import key_of
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def records(db):
    screws = make.screws()
    piece = make.rack(make.bar(), 500)[0]
    return {
        "item": screws,
        "lot": piece.lot,
        "piece": piece,
        "cutter": make.fitted(make.cutter()),
        "batch": make.plan(make.simple_knife("TRAIL", make.line(screws))),
        "order": make.order(make.offer(screws)),
        "place": make.place("Rack 2/3 hinten, grün"),
    }


def test_label_leads_to_its_record(viewer_client, records):
    for kind, record in records.items():
        answer = viewer_client.get(reverse("short", args=[key_of(record)]))
        assert answer.url == record.get_absolute_url(), kind


def test_what_is_typed_leads_there_too_in_small_letters(viewer_client, records):
    for kind, record in records.items():
        answer = viewer_client.get(reverse("find"), {"q": key_of(record).lower()})
        assert answer.url == record.get_absolute_url(), kind


def test_place_is_found_by_its_name(viewer_client, records):
    answer = viewer_client.get(reverse("find"), {"q": records["place"].name})
    assert answer.url == records["place"].get_absolute_url()


def test_address_typed_with_a_slash_at_its_end_leads_there_too(viewer_client, records):
    answer = viewer_client.get(f"/l/{records['piece'].label}/")
    assert answer.url == records["piece"].get_absolute_url()


def test_stranger_signs_in_and_is_led_back_to_the_label(client, maker, records):
    maker.set_password("straw bronze plum")
    maker.save()
    address = reverse("short", args=[records["piece"].label])
    door = client.get(address)
    signed = {"username": maker.username, "password": "straw bronze plum"}
    page = client.get(door.url)
    answer = client.post(door.url, {**signed, "next": page.context["next"]}, follow=True)
    assert [step[0] for step in answer.redirect_chain] == [
        address,
        records["piece"].get_absolute_url(),
    ]


def test_unknown_label_gets_a_search_and_what_is_like_it(viewer_client, records):
    answer = viewer_client.get(reverse("short", args=["SCREW"]))
    page = answer.content.decode()
    assert answer.status_code == 404
    assert "carries the label “SCREW”" in page
    assert records["item"].get_absolute_url() in page
    assert 'name="q"' in page


def test_label_that_two_records_carry_asks_which(viewer_client, records):
    twin = make.screws(records["lot"].number)
    answer = viewer_client.get(reverse("short", args=[twin.code]))
    page = answer.content.decode()
    assert "more than one label" in page
    assert twin.get_absolute_url() in page
    assert records["lot"].get_absolute_url() in page


@pytest.mark.parametrize("label", ["place-99999", f"place-{'9' * 30}", "place-x", "%00", "%"])
def test_odd_labels_are_unknown_not_a_fault(viewer_client, label):
    assert viewer_client.get(f"/l/{label}").status_code == 404


def test_place_shows_what_lies_there(viewer_client):
    shelf = make.place()
    lot = make.stock(make.screws(), 20, place=shelf)
    piece = make.rack(make.bar(), 500, place=shelf)[0]
    page = viewer_client.get(shelf.get_absolute_url()).content.decode()
    for record in (lot, lot.item, piece):
        assert record.get_absolute_url() in page
