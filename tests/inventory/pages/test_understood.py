"""What a field says it has understood, before anything is sent."""

import uuid

import pytest
from django.urls import reverse

from tests import factories as make

pytestmark = pytest.mark.django_db
D, MM = make.D, make.MM


def said(client, kind, text, of=None):
    asked = {"as": kind, "field": "typed", "typed": text, **({"of": of.code} if of else {})}
    return client.get(reverse("understood"), asked).content.decode().strip()


@pytest.fixture
def bar():
    bar = make.bar()
    size = {"piece_length_um": 914 * MM, "pieces_per_pack": 1}
    make.offer(bar, pack_name="bar 914 mm", **size)
    return bar


@pytest.mark.parametrize(
    ("kind", "typed", "words"),
    [
        ("length", "48 in", "= 1\u202f219.2 mm"),
        ("length", "3/16 in", "= 4.762 mm"),
        ("size", "12 x 24 in", "= 304.8 × 609.6 mm"),
        ("length", "240 mm", ""),
        ("length", "", ""),
        ("length", "5 g", "measures a mass"),
    ],
    ids=["inches", "a fraction", "a size", "nothing new", "nothing", "another dimension"],
)
def test_length_is_said_in_mm_before_it_is_sent(viewer_client, kind, typed, words):
    # 1 in = 25.4 mm: NIST SP 811, appendix B.
    answer = said(viewer_client, kind, typed)
    assert words in answer if words else answer == ""


def test_packs_are_said_in_stock_units(viewer_client):
    screws = make.screws()
    make.offer(screws, pack_name="bag of 100", pack_qty=D(100))
    assert said(viewer_client, "quantity", "2 bags", screws) == "= 200"
    assert "sold as “bag of 100”" in said(viewer_client, "quantity", "2 cans", screws)


def test_pack_of_an_item_nobody_offers_is_refused(viewer_client):
    assert "No current offer" in said(viewer_client, "quantity", "2 bags", make.screws())


def test_full_bars_are_said_with_their_length(viewer_client, bar):
    assert said(viewer_client, "pieces", "3 bars", bar) == "= 3 of 914 mm: 2.742 m in all"
    assert said(viewer_client, "pieces", "2 bars of 500 mm", bar) == "= 2 of 500 mm: 1 m in all"


def test_volume_of_a_weighed_item_goes_through_its_density_only(viewer_client):
    # By arithmetic: 8 fl oz = 236.5882365 mL; at 1.15 g/mL 272.076 g.
    thick = make.epoxy("THICK", density_g_per_ml=D("1.15"))
    assert said(viewer_client, "quantity", "8 fl oz", thick) == "= 272.076 g"
    assert "State the item" in said(viewer_client, "quantity", "8 fl oz", make.epoxy())


def test_reader_of_inches_and_ounces_gets_both(viewer, viewer_client):
    viewer.length_unit, viewer.mass_unit = "in", "oz"
    viewer.save()
    assert said(viewer_client, "length", "48") == "= 48 in (1\u202f219.2 mm)"
    assert said(viewer_client, "quantity", "8", make.epoxy()) == "= 8 oz (226.796 g)"


def test_question_about_nothing_known_is_not_found(viewer_client):
    assert viewer_client.get(reverse("understood")).status_code == 404
    asked = {"as": "quantity", "of": "NOBODY"}
    assert viewer_client.get(reverse("understood"), asked).status_code == 404


def test_pack_of_a_new_offer_is_said_in_the_unit_of_the_item_chosen_beside_it(viewer_client):
    asked = {"as": "quantity", "field": "pack_qty", "beside": "item", "pack_qty": "2 lb"}
    for item, words in [(make.epoxy(), "= 907.185 g"), (make.screws(), "is not a count")]:
        answer = viewer_client.get(reverse("understood"), asked | {"item": item.pk})
        assert words in answer.content.decode()
    unknown = viewer_client.get(reverse("understood"), asked | {"item": "x"})
    assert unknown.status_code == 404


def test_reading_of_a_scale_is_said_without_an_item(viewer_client):
    asked = {"as": "quantity", "unit": "g", "field": "gross", "gross": "1 lb"}
    assert "= 453.592 g" in viewer_client.get(reverse("understood"), asked).content.decode()


def test_quantity_fields_ask_what_is_understood(maker_client):
    page = maker_client.get(reverse("receive", args=[make.epoxy().code])).content.decode()
    assert "?as=quantity&amp;of=EPOXY&amp;field=qty" in page


def test_delivery_in_packs_is_booked(maker_client, bar):
    sent = {"key": uuid.uuid4(), "pieces": "3 bars\n600 mm", "day": "2025-03-10"}
    maker_client.post(reverse("receive", args=[bar.code]), {**sent, "status": "released"})
    assert make.on_hand(bar) == 3 * 914 + 600
