"""Cuts tried without a batch: two columns in, drawings out, nothing booked."""

import pytest
from django.urls import reverse

from inventory.models import Movement
from tests import factories as make

pytestmark = pytest.mark.django_db
URL = "/batches/cuts/"


def plan(client, **asked):
    usual = {"pieces": "", "parts": "", "kerf": "1.5 mm", "trim": "", "keep": ""}
    return client.get(URL, usual | asked)


@pytest.mark.parametrize(
    "pieces",
    ["914 mm\t2", "914 mm; 2", "914 mm  2", "2 of 914 mm", "914 mm\n914 mm"],
    ids=["tab", "semicolon", "spaces", "of", "one a line"],
)
def test_two_columns_are_read_as_they_are_pasted(viewer_client, pieces):
    # Paper: (914 + 1.5) / (240 + 1.5) = 3.79, so 3 of each bar.
    page = plan(viewer_client, pieces=pieces, parts="240 mm\t7")
    assert page.context["made"] == 6
    assert "6 of 7 parts come out" in page.content.decode()
    assert "No other way of cutting gives more" in page.content.decode()


def test_inches_are_read_and_shown_to_who_works_in_them(viewer_client, viewer):
    viewer.length_unit = "in"
    viewer.save()
    page = plan(viewer_client, pieces="36\t1", parts="9 1/2\t3", kerf="1/16")
    assert page.context["made"] == 3
    assert "36 in" in page.content.decode()


def test_sheets_are_ripped_and_cross_cut(viewer_client):
    page = plan(viewer_client, pieces="610 x 305 mm\t1", parts="128 x 39 mm\t20", kerf="1.6 mm")
    assert page.context["made"] == 20
    assert "Drawing of 1" in page.content.decode()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"pieces": "914 mm", "parts": "100 x 20 mm"}, "Some sizes have a width"),
        ({"pieces": "blue", "parts": "240 mm"}, "blue"),
        ({"pieces": "", "parts": "240 mm"}, "required"),
        ({"pieces": "201 of 914 mm", "parts": "240 mm"}, "Ask in two goes"),
        ({"pieces": "914 mm", "parts": "240 mm\t0"}, "write the count first"),
    ],
    ids=["bars and sheets", "no size", "no pieces", "too many", "none wanted"],
)
def test_what_cannot_be_planned_is_said_beside_its_field(viewer_client, asked, words):
    page = plan(viewer_client, **asked)
    assert page.status_code == 422
    assert words in page.content.decode()


def test_rack_of_an_item_is_filled_in(viewer_client):
    steel = make.bar(kerf_um=1500, trim_um=3000)
    make.rack(steel, 1000, 1000, 400)
    page = viewer_client.get(URL, {"item": steel.code})
    assert page.context["form"]["pieces"].value() == "2 of 1000 mm\n1 of 400 mm"
    assert reverse("try-cuts") in viewer_client.get(steel.get_absolute_url()).content.decode()


def test_trying_books_nothing(viewer_client):
    plan(viewer_client, pieces="914 mm", parts="240 mm")
    assert not Movement.objects.exists()


def test_ten_pieces_and_more_stand_in_the_order_of_their_numbers(viewer_client):
    page = plan(viewer_client, pieces="12 of 300 mm", parts="12 of 240 mm")
    shown = [planned.piece.label for planned in page.context["sheet"].pieces]
    assert shown == [f"{number:02}" for number in range(1, 13)]
