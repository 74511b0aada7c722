"""Sent out to be reground, back, fitted again; entries moved; wear seen by eye; geometry."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory import actions
from inventory.models import Fitting, Regrind, WearReading
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def worn():
    make.shop()
    fitting = make.fitted(make.cutter(), "4", cutting_data="90 m/min")
    actions.log_wear(fitting=fitting, amount=Decimal(80), day=make.DAY)
    return actions.remove(fitting=fitting, reason="worn", day=make.DAY)


def send(client, name, fitting, *more, **values):
    url = reverse(name, args=[fitting.label, *more])
    return client.post(url, {"key": uuid.uuid4(), **values})


def test_worn_cutter_goes_out_comes_back_and_is_fitted_as_the_same_one(maker_client, worn):
    page = maker_client.get(worn.get_absolute_url()).content.decode()
    assert "Send it to be reground" in page
    assert send(maker_client, "fitting-regrind", worn).status_code == 302
    assert "out since" in maker_client.get("/cutters/").content.decode()
    send(maker_client, "fitting-reground", worn, diameter_um="5.9", is_usable="on")
    page = maker_client.get(worn.get_absolute_url())
    assert "5.9 mm in diameter" in page.content.decode()
    form = maker_client.get(f"{reverse('cutter-fit')}?{page.context['fit_again']}")
    assert form.context["form"]["cutting_data"].value() == "90 m/min"
    values = {
        "key": uuid.uuid4(),
        "item": worn.item.code,
        "machine": worn.machine_id,
        "pocket": "4",
        "regrind": Regrind.objects.get().pk,
    }
    answer = maker_client.post(
        reverse("cutter-fit"), values | {"day": Regrind.objects.get().back_on}
    )
    new = Fitting.objects.get(removed_on=None)
    assert answer.url == new.get_absolute_url()
    shown = maker_client.get(answer.url).content.decode()
    assert "Set its offset to the measured diameter of 5.9 mm" in shown
    assert f'before that it was <a href="{worn.get_absolute_url()}">' in shown


def test_entry_is_moved_to_the_pocket_it_belongs_to(maker_client):
    make.shop()
    wrong, right = make.fitted(make.cutter(), "1"), make.fitted(make.cutter("MILL-10"), "2")
    log = actions.log_wear(fitting=wrong, amount=Decimal(40), day=make.DAY)
    page = maker_client.get(reverse("fitting-move", args=[wrong.label, log.pk])).content.decode()
    assert "Mill, pocket 2: T-0002 (MILL-10)" in page
    answer = send(maker_client, "fitting-move", wrong, log.pk, to=right.label)
    assert answer.url == right.get_absolute_url()
    right.refresh_from_db()
    assert right.life_used == 40


def test_life_that_ended_far_beyond_all_others_is_flagged(viewer_client):
    make.shop()
    one = make.fitted(make.cutter())
    actions.log_wear(fitting=one, amount=Decimal(900), day=make.DAY)
    actions.remove(fitting=one, reason="worn", day=make.DAY)
    assert (
        "A life far beyond all others;"
        in viewer_client.get(one.get_absolute_url()).content.decode()
    )


def test_belt_is_seen_by_eye_with_one_tap(maker_client):
    make.shop()
    belt = make.fitted(make.item("BELT", "abrasive", life_unit="pieces", rated_life=Decimal(30)))
    page = maker_client.get(belt.get_absolute_url()).content.decode()
    assert 'name="level" value="half">Half worn' in page
    assert 'name="vb_um"' not in page
    answer = send(maker_client, "fitting-read", belt, level="worn")
    assert "noted as worn. Change it." in maker_client.get(answer.url).content.decode()
    assert WearReading.objects.get().level == "worn"


def test_limit_that_no_reading_has_reached_is_said(viewer_client):
    make.shop()
    one = make.fitted(make.cutter(wear_limit_um=300))
    actions.log_wear(fitting=one, amount=Decimal(40), day=make.DAY)
    actions.read_wear(fitting=one, vb_um=120, day=make.DAY)
    page = viewer_client.get(one.get_absolute_url()).content.decode()
    assert "Limit of 300 µm not reached at 40 min" in page


def test_geometry_stands_with_its_symbols(viewer_client, owner_client):
    make.shop()
    sizes = {"diameter_um": 6000, "cut_depth_um": 13_000, "flutes": 4, "coating": "AlTiN"}
    one = make.fitted(make.cutter(**sizes))
    page = viewer_client.get(one.get_absolute_url()).content.decode()
    for term in (
        "Cutting diameter DC</dt><dd>6 mm",
        "APMX</dt><dd>13 mm",
        "NOF</dt><dd>4",
        "AlTiN",
    ):
        assert term in page
    form = owner_client.get(reverse("item-edit", args=[one.item.code])).content.decode()
    assert "Cutter, by the symbols of ISO 13399" in form


def reground(worn, **values):
    out = actions.send_to_regrind(fitting=worn, day=make.DAY)
    return actions.bring_back_reground(regrind=out, day=make.DAY, **values)


def test_reground_one_goes_in_by_one_tap_and_its_offset_is_asked_for(maker_client, worn):
    ground = reground(worn, diameter_um=5_900)
    now = make.fitted(worn.item, "4")
    page = maker_client.get(now.get_absolute_url()).content.decode()
    assert f"Worn, {worn} reground is in (5.9 mm)" in page
    assert "a new one is in" not in page
    values = {"reason": "worn", "fit_next": "on", "regrind": ground.pk}
    answer = send(maker_client, "fitting-change", now, **values)
    fitted = Fitting.objects.get(removed_on=None)
    assert (fitted.regrinds, answer.url) == (1, fitted.get_absolute_url())
    shown = maker_client.get(answer.url).content.decode()
    assert "Set its offset to the measured diameter of 5.9 mm" in shown


def test_reground_one_that_was_not_measured_is_to_be_measured_before_it_cuts(maker_client, worn):
    ground = reground(worn)
    now = make.fitted(worn.item, "4")
    values = {"reason": "broken", "fit_next": "on", "regrind": ground.pk}
    answer = send(maker_client, "fitting-change", now, **values)
    shown = maker_client.get(answer.url).content.decode()
    assert shown.count("before it cuts") == 2


def test_one_set_aside_goes_back_in_by_one_tap(maker_client):
    make.shop()
    aside = make.fitted(make.cutter(), "4")
    actions.log_wear(fitting=aside, amount=Decimal(30), day=make.DAY)
    actions.remove(fitting=aside, reason="removed_early", day=make.DAY)
    now = make.fitted(aside.item, "4")
    assert f"Broke, {aside} set aside is in (30 min used)" in (
        maker_client.get(now.get_absolute_url()).content.decode()
    )
    values = {"reason": "broken", "fit_next": "on", "continues": aside.label}
    send(maker_client, "fitting-change", now, **values)
    assert Fitting.objects.get(removed_on=None).continues == aside


def test_only_one_goes_in(maker_client, worn):
    ground = reground(worn)
    aside = make.fitted(worn.item, "5")
    actions.remove(fitting=aside, reason="removed_early", day=make.DAY)
    now = make.fitted(worn.item, "4")
    values = {"reason": "worn", "fit_next": "on", "regrind": ground.pk, "continues": aside.label}
    answer = send(maker_client, "fitting-change", now, **values)
    assert answer.status_code == 422
    assert "Only one goes in." in answer.content.decode()
    assert Fitting.objects.get(pk=now.pk).is_fitted


def test_cutter_out_to_be_reground_stands_on_the_page_of_the_vendors(viewer_client, worn):
    assert "reground" not in viewer_client.get("/vendors/").content.decode()
    out = actions.send_to_regrind(fitting=worn, day=make.DAY, vendor=make.vendor())
    page = viewer_client.get("/vendors/").content.decode()
    assert "Cutters out to be reground" in page
    assert worn.get_absolute_url() in page
    assert "Ember Supply" in page
    actions.bring_back_reground(regrind=out, day=make.DAY)
    assert worn.label not in viewer_client.get("/vendors/").content.decode()
