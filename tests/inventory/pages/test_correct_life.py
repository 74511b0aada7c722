"""The record of a cutter put right on its page."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory import actions
from inventory.models import Fitting
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def lost():
    make.shop()
    fitting = make.fitted(make.cutter(), "4")
    actions.log_wear(fitting=fitting, amount=Decimal(80), day=make.DAY)
    actions.read_wear(fitting=fitting, vb_um=900, day=make.DAY)
    return actions.remove(fitting=fitting, reason="lost", day=make.DAY)


def post(client, name, fitting, *more, **values):
    url = reverse(name, args=[fitting.label, *more])
    return client.post(url, {"key": uuid.uuid4(), **values}, follow=True)


def test_maker_corrects_why_it_came_out_and_the_page_keeps_what_stood(maker_client, lost):
    assert "Correct the reason" in maker_client.get(lost.get_absolute_url()).content.decode()
    page = post(maker_client, "fitting-reason", lost, reason="worn").content.decode()
    assert "Was noted as lost; it was worn." in page


def test_cutter_that_never_came_out_is_in_again(maker_client, lost):
    page = post(maker_client, "fitting-never-out", lost).content.decode()
    assert "its life goes on" in page
    assert Fitting.objects.get().is_fitted


def test_reading_and_regrind_are_taken_back(maker_client, lost):
    post(maker_client, "fitting-unread", lost, lost.readings.get().pk)
    actions.correct_end_reason(fitting=lost, reason="worn")
    actions.send_to_regrind(fitting=lost, day=make.DAY)
    page = post(maker_client, "fitting-not-sent", lost).content.decode()
    assert "is here, not out to be reground" in page
    assert not lost.readings.exists()


@pytest.mark.parametrize("name", ["fitting-reason", "fitting-never-out"])
def test_who_only_looks_changes_nothing(viewer_client, lost, name):
    assert viewer_client.post(reverse(name, args=[lost.label])).status_code == 403
    assert "never came out" not in viewer_client.get(lost.get_absolute_url()).content.decode()


def test_form_sent_twice_after_its_entry_was_taken_back_says_so(maker_client, lost):
    actions.put_back_in(fitting=lost, day=make.DAY)
    sent = {"key": str(uuid.uuid4()), "vb_um": "280"}
    url = reverse("fitting-read", args=[lost.label])
    maker_client.post(url, sent)
    actions.take_back_reading(reading=lost.readings.last())
    assert "taken back since" in maker_client.post(url, sent).content.decode()
