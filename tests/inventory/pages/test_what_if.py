"""The page that tries other terms: what it asks, refuses and shows side by side."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.actions.update_forecast import update_forecast
from inventory.models import Batch, ForecastRun, Item
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


@pytest.fixture
def address(db):
    """Screws with a forecast as if a run had stored it."""
    item = make.screws()
    make.simple_knife("TRAIL", make.line(item, 2))
    make.item_forecast(make.forecast_run(TODAY()), item)
    return reverse("what-if", args=["SCREW-M4"])


def asked(client, address, **values):
    answer = client.get(address, values)
    return answer, answer.content.decode()


def test_page_asks_before_it_works_anything_out(viewer_client, address):
    answer, page = asked(viewer_client, address)
    assert answer.status_code == 200
    assert "what would it change?" in page
    assert "Now and as tried" not in page
    assert '<option value="TRAIL">' in page


@pytest.mark.parametrize(
    ("values", "refusal"),
    [
        ({"service": "100"}, "less than or equal to 99.9"),
        ({"service": "many"}, "Enter a number"),
        ({"lead": "0"}, "greater than or equal to 1"),
        ({"price": "-3"}, "greater than or equal to"),
        ({"product": "TRAIL"}, "Fill in all three, or none"),
        ({"knives": "12"}, "Fill in all three, or none"),
        ({"product": "AXE"}, "not one of the available choices"),
        (
            {"product": "TRAIL", "knives": "12", "start": "2020-01-01"},
            "That day is over. Choose today or a later one.",
        ),
        ({"knives": "9" * 400}, "less than or equal to 10000"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_what_can_not_be_tried_is_refused_in_words(viewer_client, address, values, refusal):
    answer, page = asked(viewer_client, address, **values)
    assert answer.status_code == 422
    assert refusal in page


@pytest.mark.parametrize("code", ["NOTHING", "EPOXY"])
def test_item_without_a_forecast_has_no_what_if(viewer_client, address, code):
    make.epoxy()
    assert viewer_client.get(reverse("what-if", args=[code])).status_code == 404


def test_item_discontinued_since_the_forecast_has_no_what_if(viewer_client, address):
    Item.objects.update(status=Item.Status.DISCONTINUED)
    assert viewer_client.get(address).status_code == 404


def test_figures_stand_side_by_side_and_nothing_is_stored(viewer_client, db):
    knives = make.knife_shop()
    make.offer(knives.screws, pack_qty=make.D(100), pack_name="bag of 100")
    make.plan(knives.knife, 10, TODAY())
    update_forecast(as_of=TODAY())
    before = ForecastRun.objects.count(), Batch.objects.count()
    start = (TODAY() + timedelta(days=5)).isoformat()
    values = {"service": "99", "product": "TRAIL", "knives": "200", "start": start, "price": "12.5"}
    page = viewer_client.get(reverse("what-if", args=[knives.screws.code]), values)
    assert page.status_code == 200
    rows = {row.name: row for row in page.context["rows"]}
    assert rows["Lasts until the delivery"].now == "95\u202f% of the times"
    assert rows["Lasts until the delivery"].tried == "99\u202f% of the times"
    assert rows["Reorder point"].differs
    assert "× bag of 100" in rows["To order today"].tried
    assert not rows["Lead time"].differs
    assert before == (ForecastRun.objects.count(), Batch.objects.count())
