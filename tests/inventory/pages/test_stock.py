"""The stock list and the page of an item."""

import csv
import io

import pytest

from inventory import actions
from inventory.models import Item
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelf(db):
    """A bar in pieces, screws in two lots, epoxy past its date."""
    make.shop()
    bar, screws = make.bar(grade="AISI 440C"), make.screws(place=make.place("Drawer 3"))
    make.rack(bar, 1000, 180)
    make.stock(screws, 40)
    make.stock(screws, 60)
    make.stock(make.epoxy(), 500, expires_on=make.days(30))
    return {"bar": bar, "screws": screws}


def codes(response):
    return [row.record.code for row in response.context["table"].rows]


def exported(response):
    text = b"".join(response.streaming_content).decode().removeprefix("\ufeff")
    return list(csv.DictReader(io.StringIO(text)))


def test_list_shows_what_is_free_and_what_stands_out(viewer_client, shelf):
    page = viewer_client.get("/stock/").content.decode()
    assert "1.18" in page
    assert "expired" in page


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("?q=440c", ["BAR-4X40"]),
        ("?kind=fastener", ["SCREW-M4"]),
        ("?state=unusable", ["EPOXY"]),
        ("?state=gone", ["BELT"]),
        ("?sort=-on_hand&state=here", ["BAR-4X40", "EPOXY", "SCREW-M4"]),
    ],
    ids=["standard grade", "kind", "not usable", "nothing here", "largest first"],
)
def test_list_is_filtered_and_sorted(viewer_client, shelf, asked, found):
    make.item("BELT", "abrasive")
    assert codes(viewer_client.get(f"/stock/{asked}")) == found


def test_filter_that_makes_no_sense_finds_nothing_instead_of_failing(viewer_client, shelf):
    assert codes(viewer_client.get("/stock/?kind=nonsense&place=x")) == []


def test_page_past_the_end_shows_the_last_one(viewer_client, shelf):
    assert len(codes(viewer_client.get("/stock/?page=99"))) == 3


def test_export_holds_every_matching_item_in_stock_units(viewer_client, shelf):
    for number in range(60):
        make.screws(f"SCREW-{number:02}")
    rows = exported(viewer_client.get("/stock/?format=csv"))
    assert len(rows) == 63
    assert [row["On hand"] for row in rows if row["Code"] == "BAR-4X40"] == ["1180"]
    assert [row["Available"] for row in rows if row["Code"] == "EPOXY"] == ["0"]
    assert {row["Stock unit"] for row in rows} == {"mm", "g", "each"}


def test_export_of_one_kind_keeps_the_filter(viewer_client, shelf):
    rows = exported(viewer_client.get("/stock/?kind=bar&format=csv"))
    assert [row["Code"] for row in rows] == ["BAR-4X40"]


def test_script_gets_the_table_alone_and_the_way_back_gets_the_page(viewer_client, shelf):
    asked = {"HX-Request": "true"}
    assert "<html" not in viewer_client.get("/stock/", headers=asked).content.decode()
    asked["HX-History-Restore-Request"] = "true"
    page = viewer_client.get("/stock/", headers=asked)
    assert "<html" in page.content.decode()
    assert "HX-Request" in page.headers["Vary"]


def test_long_list_takes_no_more_queries_than_a_short_one(
    viewer_client, shelf, django_assert_max_num_queries
):
    for number in range(40):
        make.stock(make.screws(f"SCREW-{number:02}"), 10)
    with django_assert_max_num_queries(10):
        viewer_client.get("/stock/")


def test_item_page_says_why_a_lot_is_not_usable(viewer_client, shelf):
    page = viewer_client.get("/stock/items/EPOXY/").content.decode()
    assert "expired 2 Apr 2025" in page


def test_item_page_lists_pieces_with_their_size_and_remnants(viewer_client, shelf, maker):
    piece = shelf["bar"].lots.get().pieces.get(length_um=1000 * make.MM)
    actions.cut_piece(
        piece=piece,
        parts=[(240 * make.MM, None, 2)],
        remnants=[(500 * make.MM, None)],
        day=make.DAY,
        by=maker,
    )
    table = viewer_client.get("/stock/items/BAR-4X40/").context["balance_table"]
    shown = [(str(row.get_cell("size")), row.get_cell("sort")) for row in table.rows]
    assert shown == [("500 mm", "remnant"), ("180 mm", "whole")]


def test_item_page_shows_hazard_statements_and_defers_to_the_data_sheet(viewer_client):
    make.shop()
    make.epoxy(hazard_codes="H317")
    page = viewer_client.get("/stock/items/EPOXY/").content.decode()
    assert "May cause an allergic skin reaction" in page
    assert "safety data sheet" in page


def test_data_sheet_alone_is_led_to_with_the_same_words(viewer_client):
    make.shop()
    make.epoxy()
    Item.objects.update(data_sheet="sheets/epoxy.pdf", data_sheet_dated=make.DAY)
    page = viewer_client.get("/stock/items/EPOXY/").content.decode()
    assert "Safety data sheet of 3 Mar 2025" in page
    assert "not a safety assessment" in page


def test_item_page_takes_no_more_queries_for_many_lots(
    viewer_client, shelf, django_assert_max_num_queries
):
    for _ in range(30):
        make.stock(shelf["screws"], 5)
    with django_assert_max_num_queries(11):
        viewer_client.get("/stock/items/SCREW-M4/")


def test_unknown_item_is_a_plain_not_found(viewer_client, shelf):
    response = viewer_client.get("/stock/items/NOTHING/")
    assert response.status_code == 404
    assert "No page or record" in response.content.decode()


def test_viewer_sees_no_button_that_would_write(viewer_client, shelf):
    page = viewer_client.get("/stock/items/SCREW-M4/").content.decode()
    assert "/use/" not in page
    assert "/receive/" not in page
