"""The parts of an item's page that are pages of their own, and its lists."""

import csv
import io
from datetime import timedelta
from xml.etree import ElementTree

import pytest
from django.utils import timezone

from inventory import actions
from inventory.models import User
from tests import factories as make

pytestmark = pytest.mark.django_db
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def screws():
    """Bought twice, used once, counted once, in the last weeks."""
    make.shop(currency="EUR")
    screws, today = make.screws(), timezone.localdate()
    make.offer(screws, price=5, pack_name="bag of 100", pack_qty=make.D(100))
    known = {"supplier": make.supplier(), "unit_cost": make.D("0.04")}
    lot = make.stock(screws, 100, today - timedelta(days=60), **known)
    make.stock(screws, 50, today - timedelta(days=40), **known)
    actions.issue_stock(
        item=screws, qty=make.D(30), day=today - timedelta(days=20), reason="repair"
    )
    place = make.where(lot)
    actions.count_lot(lot=lot, place=place, counted=make.D(68), day=today, reason="dropped")
    make.simple_knife("TRAIL", make.line(screws, 3))
    return screws


def text(response) -> str:
    return response.content.decode()


def exported(response) -> list[dict[str, str]]:
    written = b"".join(response.streaming_content).decode().removeprefix("\ufeff")
    return list(csv.DictReader(io.StringIO(written)))


def test_item_page_calls_in_its_parts_and_links_to_them(viewer_client, screws):
    page = text(viewer_client.get("/stock/items/SCREW-M4/"))
    for part in ("prices", "history"):
        assert f'hx-get="/stock/items/SCREW-M4/{part}/"' in page
        assert f'href="/stock/items/SCREW-M4/{part}/"' in page


@pytest.mark.parametrize("part", ["prices", "history"])
def test_part_stands_alone_or_is_called_in(viewer_client, screws, part):
    address = f"/stock/items/SCREW-M4/{part}/"
    assert "<h1" in text(viewer_client.get(address))
    called_in = text(viewer_client.get(address, headers={"HX-Request": "true"}))
    assert "<h1" not in called_in
    assert f'id="{part}"' in called_in


def test_prices_show_where_it_is_used_who_sells_it_and_what_was_paid(viewer_client, screws):
    page = text(viewer_client.get("/stock/items/SCREW-M4/prices/"))
    for shown in ("/products/TRAIL/", "bag of 100", "0.05 EUR", "0.04 EUR", "Price of one, in EUR"):
        assert shown in page


def test_price_of_a_bar_is_told_for_the_length_its_reader_buys_in(viewer_client, viewer):
    make.shop()
    make.offer(make.bar(), price=20, piece_length_um=1000 * make.MM, pieces_per_pack=1)
    page = viewer_client.get("/stock/items/BAR-4X40/prices/")
    assert "Price per m" in text(page)
    User.objects.filter(pk=viewer.pk).update(length_unit="in")
    assert "Price per ft" in text(viewer_client.get("/stock/items/BAR-4X40/prices/"))


def test_price_drawing_has_a_line_an_offer_and_a_dot_a_delivery(viewer_client, screws):
    drawn = ElementTree.fromstring(
        viewer_client.get("/stock/items/SCREW-M4/prices/")
        .context["price_chart"]
        .replace("<svg", f'<svg xmlns="{SVG[1:-1]}"')
    )
    assert len(drawn.findall(f"{SVG}line[@class='line']")) == 1
    assert len(drawn.findall(f"{SVG}circle[@class='dot']")) == 2


def test_history_tells_the_weeks_behind_its_drawing(viewer_client, screws):
    context = viewer_client.get("/stock/items/SCREW-M4/history/").context
    weeks = [week for week in context["weeks"] if week.came or week.used or week.is_corrected]
    assert [(week.came, week.used, week.corrected) for week in weeks] == [
        (0, 0, -2),
        (0, 30, 0),
        (50, 0, 0),
        (100, 0, 0),
    ]
    assert context["weeks"][0].stock == make.on_hand(screws)
    drawn = ElementTree.fromstring(context["chart"].replace("<svg", f'<svg xmlns="{SVG[1:-1]}"'))
    assert len(drawn.findall(f"{SVG}rect[@class='came']")) == 2
    assert len(drawn.findall(f"{SVG}rect[@class='past']")) == 1
    assert len(drawn.findall(f"{SVG}circle[@class='ring']")) == 1


@pytest.mark.parametrize(
    ("asked", "weeks"),
    [
        ("", 26),
        ("?weeks=52", 52),
        ("?weeks=104", 104),
        ("?weeks=" + "9" * 5000, 26),
        ("?weeks=²", 26),
    ],
    ids=["unasked", "a year", "two years", "too long", "no number"],
)
def test_history_goes_back_as_far_as_asked(viewer_client, screws, asked, weeks):
    context = viewer_client.get(f"/stock/items/SCREW-M4/history/{asked}").context
    assert len(context["weeks"]) == weeks


def test_history_says_how_often_the_stock_turned_over(viewer_client):
    make.shop()
    item, today = make.screws(), timezone.localdate()
    make.stock(item, 200, today - timedelta(weeks=53))
    actions.issue_stock(
        item=item, qty=make.D(100), day=today - timedelta(weeks=26), reason="sample"
    )
    page = text(viewer_client.get("/stock/items/SCREW-M4/history/?weeks=52"))
    # Half a year 200 and half a year 100 lay there; 100 used.
    assert "In these 51 whole weeks" in page
    assert "turned over 0.7 times a year" in page


def test_item_of_which_nothing_ever_came_has_its_parts(viewer_client):
    make.shop()
    make.screws()
    for part in ("prices", "history", "lots", "pieces"):
        assert viewer_client.get(f"/stock/items/SCREW-M4/{part}/").status_code == 200


def test_lots_that_are_used_up_are_in_the_list_of_all(viewer_client, screws):
    lot = screws.lots.order_by("pk").first()
    place = make.where(lot)
    actions.count_lot(
        lot=lot, place=place, counted=make.D(0), day=timezone.localdate(), reason="lost"
    )
    assert "L-0001" not in text(viewer_client.get("/stock/items/SCREW-M4/"))
    rows = exported(viewer_client.get("/stock/items/SCREW-M4/lots/?format=csv"))
    assert [(row["Lot"], row["Left"]) for row in rows] == [("L-0002", "50"), ("L-0001", "0")]


def test_pieces_that_are_gone_are_in_the_list_of_all(viewer_client, maker):
    make.shop()
    (piece,) = make.rack(make.bar(place=make.place("Rack 2")), 1000)
    half = [(500 * make.MM, None)]
    actions.cut_piece(piece=piece, parts=[(240 * make.MM, None, 1)], remnants=half, day=make.DAY)
    rows = exported(viewer_client.get("/stock/items/BAR-4X40/pieces/?format=csv"))
    assert [(row["Size"], row["Cut from"], row["Place"]) for row in rows] == [
        ("500 mm", piece.label, "Rack 2"),
        ("1\u202f000 mm", "", ""),
    ]


@pytest.mark.parametrize(
    ("address", "most"),
    [
        ("/stock/", 9),
        ("/stock/items/SCREW-M4/", 11),
        ("/stock/items/SCREW-M4/prices/", 11),
        ("/stock/items/SCREW-M4/history/", 11),
        ("/stock/items/SCREW-M4/lots/", 6),
        ("/stock/items/BAR-4X40/", 11),
        ("/stock/items/BAR-4X40/pieces/", 6),
        ("/stock/lots/L-0001/", 18),
        ("/stock/pieces/P-0001/", 22),
        ("/movements/", 6),
        ("/movements/?q=SCREW-M4&kind=issue", 9),
    ],
)
def test_page_takes_few_queries_however_much_there_is(
    maker_client, screws, address, most, django_assert_max_num_queries
):
    bar = make.bar()
    for _ in range(12):
        make.stock(screws, 5)
        make.rack(bar, 1000, 800)
    with django_assert_max_num_queries(most):
        assert maker_client.get(address).status_code == 200
