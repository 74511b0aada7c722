"""The page of use outside batches."""

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import actions
from inventory.models import Posting
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(db):
    make.shop(currency="EUR")
    today = timezone.localdate()
    screws = make.stock(make.screws(), 100, today, unit_cost=make.D("0.5")).item
    glue = make.stock(make.epoxy(), 100, today, unit_cost=make.D("0.04")).item
    actions.issue_stock(item=screws, qty=make.D(4), day=today, reason="repair")
    actions.issue_stock(item=glue, qty=make.D(25), day=today, reason="sample")
    return today


def asked(client, **query):
    return client.get(reverse("outside-use"), query)


def items(answer):
    return [row.record.item.code for row in answer.context["table"].rows]


def test_month_shows_what_each_reason_came_to(viewer_client, today):
    answer = asked(viewer_client)
    [month] = answer.context["months"]
    assert answer.context["reasons"] == ["repair", "sample"]
    assert [value for _, value in month["cells"]] == ["2.00", "1.00"]
    assert month["sum"] == "3.00"


def test_cell_leads_to_the_items_behind_it(viewer_client, today):
    assert items(asked(viewer_client)) == ["SCREW-M4", "EPOXY"]
    assert items(asked(viewer_client, month=f"{today:%Y-%m}", reason="sample")) == ["EPOXY"]
    assert items(asked(viewer_client, month="1999-01")) == []


def test_list_is_taken_along_as_csv(viewer_client, today):
    lines = b"".join(asked(viewer_client, format="csv")).decode().splitlines()
    assert lines[0].endswith("Item,Name,Month,Reason,Quantity,Unit,Value,Entries")
    assert lines[1] == f"SCREW-M4,screw-m4,{today:%Y-%m},repair,4,each,2,1"


def test_shop_that_used_nothing_is_told_so(viewer_client):
    make.shop()
    assert "Nothing was used outside batches" in asked(viewer_client).content.decode()


def test_movement_offers_to_be_undone_until_it_is(maker_client, viewer_client, today):
    newest = reverse("entry-undo", args=[Posting.objects.first().pk])
    assert newest in maker_client.get(reverse("movements")).content.decode()
    assert newest not in viewer_client.get(reverse("movements")).content.decode()
    maker_client.post(newest, {"key": uuid.uuid4(), "day": today})
    assert newest not in maker_client.get(reverse("movements")).content.decode()
