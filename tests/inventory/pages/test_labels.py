"""Sheets of labels to print."""

import html
import re
import uuid

import pytest
from django.urls import reverse

from inventory import actions
from inventory.exchange.label_sheets import SHEETS
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def bars(db):
    make.shop()
    return make.rack(make.bar(), 914, 914, 500, maker_number="HT-4711")


def labels(client, of, which="", **asked):
    return client.get(reverse("labels"), {"of": of, "which": which, **asked})


def printed(answer):
    """Large texts in reading order, None for a label that is used already."""
    return [cell and cell[0].number for page in answer.context.get("pages", []) for cell in page]


def test_piece_has_its_number_item_size_heat_and_day(viewer_client, bars):
    page = labels(viewer_client, "pieces", "BAR-4X40").content.decode()
    first = re.search(r'<li class="sticker">.*?</li>', page, re.DOTALL)[0]
    text = " ".join(re.sub(r"<[^>]+>", " ", first).split())
    assert text == "P-0001 BAR-4X40 bar-4x40 914 mm L-0001 HT-4711 3 Mar 2025"


def test_code_leads_to_the_address_the_browser_uses(viewer_client, bars, settings):
    assert labels(viewer_client, "pieces", "BAR-4X40").context["base"] == "http://testserver"
    settings.SHOP_ADDRESS = "https://shop.example"
    assert labels(viewer_client, "pieces", "BAR-4X40").context["base"] == "https://shop.example"


def test_address_that_no_phone_reaches_is_warned_of(viewer_client, bars, settings):
    settings.SHOP_ADDRESS = "http://localhost:8000"
    page = labels(viewer_client, "pieces", "BAR-4X40").content.decode()
    assert "only this computer knows" in page


def test_item_is_labelled_with_its_lots_that_are_here(viewer_client, bars):
    screws = make.screws()
    make.stock(screws, 10)
    make.stock(screws, 10)
    actions.issue_stock(item=screws, qty=make.D(10), day=make.DAY, reason="sample")
    assert printed(labels(viewer_client, "item", "screw-m4")) == ["SCREW-M4", "L-0003"]


def test_delivery_is_labelled_with_its_pieces_that_are_still_whole(viewer_client, bars):
    cut = {"parts": [(200_000, None, 1)], "remnants": [(700_000, None)]}
    actions.cut_piece(piece=bars[0], day=make.DAY, reason="sample", **cut)
    assert printed(labels(viewer_client, "lot", "L-0001")) == ["L-0001", "P-0002", "P-0003"]


def test_batch_is_labelled_with_the_remnants_it_left(viewer_client, bars):
    knife = make.simple_knife("TRAIL", make.line(bars[0].lot.item, 1, cut=(240_000, None)))
    batch = make.in_work(knife, 1)
    assert printed(labels(viewer_client, "batch", batch.number)) == ["B-0001", "P-0004"]


def test_places_and_fitted_cutters_have_labels(viewer_client):
    make.shop()
    fitting = make.fitted(make.cutter())
    shelf = make.place("Rack 2")
    assert printed(labels(viewer_client, "cutters")) == [fitting.label]
    assert shelf.name in printed(labels(viewer_client, "places"))


def test_only_ticked_pieces_are_printed(viewer_client, bars):
    asked = {"chosen": "1", "tick": ["P-0001", "P-0003"]}
    assert printed(labels(viewer_client, "pieces", "BAR-4X40", **asked)) == ["P-0001", "P-0003"]


def test_nothing_ticked_prints_nothing(viewer_client, bars):
    answer = labels(viewer_client, "pieces", "BAR-4X40", chosen="1")
    assert printed(answer) == []
    assert "none is ticked" in answer.content.decode()


def test_sheet_used_in_part_goes_on_and_copies_stand_side_by_side(viewer_client, bars):
    asked = {"sheet": "a4-65", "first": "3", "copies": "2", "chosen": "1", "tick": "P-0002"}
    answer = labels(viewer_client, "pieces", "BAR-4X40", **asked)
    assert printed(answer) == [None, None, "P-0002", "P-0002"]


def test_more_labels_than_a_page_takes_are_counted_not_forgotten(viewer_client, bars, monkeypatch):
    monkeypatch.setattr("inventory.pages.labels.MOST_LABELS", 4)
    asked = {"sheet": "a4-24", "first": "1", "copies": "2"}
    answer = labels(viewer_client, "pieces", "BAR-4X40", **asked)
    assert printed(answer) == ["P-0001", "P-0001", "P-0002", "P-0002"]
    assert "2 labels more" in answer.content.decode()


@pytest.mark.parametrize(
    ("of", "which", "said"),
    [
        ("pieces", "NOPE", "No item is called “NOPE”"),
        ("lot", "", "No lot is called “”"),
        ("anvils", "", "not one of the available choices"),
    ],
    ids=["no such item", "no lot named", "no such source"],
)
def test_unknown_source_is_answered_in_words(viewer_client, bars, of, which, said):
    answer = labels(viewer_client, of, which)
    assert said in answer.content.decode()
    assert printed(answer) == []


@pytest.mark.parametrize(
    "asked",
    [{"first": "25"}, {"first": "0"}, {"copies": "x"}, {"sheet": "a3"}, {"first": "9" * 40}],
    ids=["beyond the sheet", "before the sheet", "no number", "no such sheet", "endless"],
)
def test_impossible_sheet_is_answered_and_the_usual_one_shown(viewer_client, bars, asked):
    asked = {"sheet": "a4-24", "first": "1", "copies": "1", **asked}
    answer = labels(viewer_client, "pieces", "BAR-4X40", **asked)
    assert answer.context["sheet_form"].errors
    assert printed(answer) == ["P-0001", "P-0002", "P-0003"]


def test_measures_of_a_sheet_come_as_a_stylesheet(viewer_client):
    answer = viewer_client.get(reverse("label-sheet", args=["roll-62"]))
    assert answer.headers["Content-Type"] == "text/css"
    assert "size: 62.0mm 29.0mm" in answer.content.decode()
    assert viewer_client.get(reverse("label-sheet", args=["a3"])).status_code == 404


def test_every_sheet_can_be_chosen(viewer_client, bars):
    page = labels(viewer_client, "pieces", "BAR-4X40").content.decode()
    assert all(sheet.name in page for sheet in SHEETS.values())


def test_remnants_of_a_cut_are_labelled_from_its_message(maker_client, bars):
    asked = {"parts": "200 mm", "remnants": "2 of 300 mm", "reason": "sample"}
    cut = maker_client.post(
        reverse("piece-cut", args=["P-0001"]), {"key": uuid.uuid4(), **asked}, follow=True
    )
    page = cut.content.decode()
    assert "Labels for P-0004, P-0005" in page
    address = html.unescape(re.search(r'href="(/labels/[^"]*P-0004[^"]*)"', page)[1])
    assert printed(maker_client.get(address)) == ["P-0004", "P-0005"]
