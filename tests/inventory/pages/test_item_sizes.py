"""Look-alike sizes, tolerances and two-part systems on the item's form and page."""

import uuid

import pytest
from django.forms.models import model_to_dict
from django.urls import reverse

from inventory.models import Item
from tests import factories as make

pytestmark = pytest.mark.django_db
D, MM = make.D, make.MM


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


def new_item(client, **values):
    sent = {"key": uuid.uuid4(), "status": "active", "lot_match": "none", "revision": 1, **values}
    return client.post(reverse("item-new"), sent, follow=True)


def new_bar(client, code, thickness, width="40 mm"):
    sizes = {"thickness_um": thickness, "width_um": width}
    return new_item(client, code=code, name=code, kind="bar", stock_unit="mm", **sizes)


def change(client, item, **values):
    form = client.get(reverse("item-edit", args=[item.code])).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value}
    url = reverse("item-edit", args=[item.code])
    return client.post(url, {**sent, "key": uuid.uuid4(), **values}, follow=True)


def told(response):
    return " ".join(map(str, response.context["messages"]))


def test_twin_in_the_other_system_is_named_with_both_exact_sizes(owner_client):
    # By arithmetic: 5/32 in = 3.96875 mm, kept as 3.968; 4 mm = 0.157 in.
    new_bar(owner_client, "BAR-5-32", "5/32 in")
    answer = told(new_bar(owner_client, "BAR-4", "4 mm"))
    assert "BAR-4 is 4 mm (0.157 in) thick" in answer
    assert "BAR-5-32 is 3.968 mm (0.156 in) thick" in answer
    assert Item.objects.count() == 2


def test_note_comes_when_the_size_changes_and_not_with_another_change(owner_client):
    new_bar(owner_client, "BAR-A", "4.8 mm")
    new_bar(owner_client, "BAR-B", "6 mm")
    bar = Item.objects.get(code="BAR-B")
    assert "Easily mistaken" not in told(change(owner_client, bar, note="rusty"))
    answer = told(change(owner_client, bar, thickness_um="3/16 in"))
    assert "BAR-B is 4.762 mm" in answer
    assert "Easily mistaken" not in told(change(owner_client, bar, note="clean"))


def test_item_page_keeps_the_note(viewer_client):
    make.bar("BAR-4", thickness_um=4 * MM)
    make.bar("BAR-5-32", thickness_um=3968)
    page = viewer_client.get(reverse("item", args=["BAR-4"])).content.decode()
    assert "Easily mistaken: BAR-4 is 4 mm" in page


@pytest.mark.parametrize(
    ("typed", "share"),
    [("100 : 43", "0.43"), ("0.43", "0.43"), ("2 to 1", "0.5"), ("3:1", "0.333333")],
)
def test_ratio_is_typed_as_on_the_can(owner_client, typed, share):
    hardener, resin = make.epoxy("HARDENER"), make.epoxy("RESIN")
    change(owner_client, resin, mixed_with=hardener.pk, mix_share=typed)
    resin.refresh_from_db()
    assert (resin.mixed_with, resin.mix_share) == (hardener, D(share))


@pytest.mark.parametrize("typed", ["100 : 0", "half", "-1", ":"])
def test_ratio_that_is_none_is_refused(owner_client, typed):
    hardener, resin = make.epoxy("HARDENER"), make.epoxy("RESIN")
    answer = change(owner_client, resin, mixed_with=hardener.pk, mix_share=typed)
    assert answer.context["form"].errors["mix_share"]


def test_tie_is_stated_once_and_only_between_what_is_weighed_or_measured(owner_client):
    hardener = make.epoxy("HARDENER")
    resin = make.epoxy("RESIN", mixed_with=hardener, mix_share=D("0.43"))
    answer = change(owner_client, hardener, mixed_with=resin.pk, mix_share="1")
    assert "RESIN already says how it is mixed with HARDENER" in answer.content.decode()
    screws = make.screws()
    answer = change(owner_client, screws, mixed_with=resin.pk, mix_share="1")
    assert "Only what is kept in g or mL is mixed" in answer.content.decode()
    assert model_to_dict(Item.objects.get(pk=screws.pk))["mixed_with"] is None


def test_both_parts_say_how_much_can_be_mixed_and_what_runs_out(viewer_client):
    hardener = make.epoxy("HARDENER")
    resin = make.epoxy("RESIN", mixed_with=hardener, mix_share=D("0.43"))
    make.stock(resin, 1000)
    lot = make.stock(hardener, 215)
    for url in (resin.get_absolute_url(), hardener.get_absolute_url(), lot.get_absolute_url()):
        page = viewer_client.get(url).content.decode()
        assert "HARDENER runs out first" in page
        assert "100 : 43 by weight" in page


def test_today_names_the_half_that_runs_out_first(viewer_client):
    knives = make.knife_shop()
    make.offer(knives.screws)
    hardener = make.epoxy("HARDENER")
    make.stock(make.epoxy("RESIN", mixed_with=hardener, mix_share=D("0.43")), 1000)
    page = viewer_client.get(reverse("today")).content.decode()
    assert "One half runs out first" in page
    assert "runs out before" in page
