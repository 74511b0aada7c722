"""Who may open what: every address of the site, walked by a stranger, a viewer and a maker."""

import uuid

import pytest
from django.contrib.auth.views import LogoutView
from django.urls import URLPattern, reverse

from inventory import actions
from inventory.models import Batch, Posting, Request
from inventory.urls import urlpatterns
from tests import factories as make

pytestmark = pytest.mark.django_db
WITHOUT_SIGNING_IN = {"login", "welcome"}
VIEWERS_OWN = {"settings", "logout"}
OWNERS = {
    *{"item-new", "item-edit", "product-new", "product-edit", "product-bill-edit"},
    *{"part-bill-edit", "supplier-new", "supplier-edit", "offer-new"},
    *{"lists", "list-in", "list-blank", "list-out", "list-upload", "whole-shop"},
    *{"shop", "person-new", "person", "place-new", "machine-new"},
    *{"backup", "backup-newest"},
}


@pytest.fixture
def addresses(owner) -> dict[str, str]:
    """One address of every page, of a shop in which each kind of record is there."""
    knives = make.knife_shop()
    piece = knives.bar.lots.get().pieces.first()
    line = make.order_line(make.offer(knives.screws))
    batch = make.plan(knives.knife)
    posting = actions.issue_stock(item=knives.screws, qty=make.D(1), day=make.DAY, reason="repair")
    fitting = knives.cutter.fittings.get()
    count = actions.start_count(day=make.DAY)
    log = actions.log_wear(fitting=fitting, amount=make.D(5), day=make.DAY)
    reading = actions.read_wear(fitting=fitting, vb_um=80, day=make.DAY)
    worn = actions.remove(fitting=make.fitted(knives.cutter, "9"), reason="worn", day=make.DAY)
    actions.send_to_regrind(fitting=worn, day=make.DAY)
    values = {
        "stock/items/<str:code>/bill/": {"code": "BLOCK", "revision": 1},
        "stock/items/<str:code>/make/": {"code": "BLOCK"},
        "stock/items/": {"code": knives.screws.code},
        "stock/lots/": {"number": knives.screws.lots.get().number},
        "stock/pieces/": {"label": piece.label},
        "stock/places/": {"pk": make.place().pk},
        "labels/": {"sheet": "a4-24"},
        "l/": {"label": piece.label},
        "movements/": {"pk": posting.pk},
        "products/": {"code": "TRAIL", "revision": 1},
        "suppliers/": {"code": line.order.supplier.code},
        "settings/lists/uploads/": {"key": uuid.uuid4()},
        "settings/lists/": {"name": "items", "form": "csv"},
        "settings/": {"username": owner.username},
        "batches/": {"number": batch.number, "pk": batch.lines.get().pk},
        "counts/": {"number": count.number, "pk": count.lines.first().pk},
        "orders/": {"number": line.order.number, "pk": line.pk},
        "cutters/kinds/": {"code": knives.cutter.code},
        "cutters/fitted/<str:label>/reground/": {"label": worn.label},
        "cutters/fitted/<str:label>/not-sent/": {"label": worn.label},
        "cutters/fitted/<str:label>/reading/<": {"label": fitting.label, "pk": reading.pk},
        "cutters/": {"label": fitting.label, "pk": log.pk},
        "forecast/products/": {"code": "TRAIL"},
        "forecast/": {"code": knives.screws.code},
        "reorder/": {"code": knives.screws.code},
    }
    return {pattern.name: address(pattern, values) for pattern in urlpatterns}


def address(pattern: URLPattern, values: dict[str, dict]) -> str:
    route, wanted = str(pattern.pattern), pattern.pattern.converters
    if not wanted:
        return reverse(pattern.name)
    known = next(known for prefix, known in values.items() if route.startswith(prefix))
    return reverse(pattern.name, kwargs={name: known[name] for name in wanted})


def test_stranger_is_sent_to_the_door_from_everywhere(client, addresses):
    client.logout()
    for name, url in addresses.items():
        if name not in WITHOUT_SIGNING_IN:
            answer = client.post(url) if name == "logout" else client.get(url)
            assert answer.status_code == 302, name
            assert answer.url.startswith("/sign-in/"), name


def test_viewer_opens_every_page_that_only_shows(viewer_client, addresses):
    for name, url in addresses.items():
        if name not in WITHOUT_SIGNING_IN | {"logout"}:
            assert viewer_client.get(url).status_code in (200, 302, 403, 404, 405), name


def test_viewer_can_not_post_anything_but_own_settings(viewer_client, addresses):
    before = [rows.count() for rows in (Posting.objects, Request.objects, Batch.objects)]
    for pattern in urlpatterns:
        name, view = pattern.name, getattr(pattern.callback, "view_class", None)
        if name in WITHOUT_SIGNING_IN | VIEWERS_OWN:
            continue
        answer = viewer_client.post(addresses[name], {"key": uuid.uuid4()})
        if view is not None:
            assert answer.status_code in (403, 405), name
    assert before == [rows.count() for rows in (Posting.objects, Request.objects, Batch.objects)]


def test_maker_opens_everything_but_the_owners_pages(maker_client, addresses):
    refused = {
        name
        for name, url in addresses.items()
        if name != "logout" and maker_client.get(url).status_code == 403
    }
    assert refused == OWNERS


def test_owner_opens_everything(owner_client, addresses):
    for name, url in addresses.items():
        if name != "logout":
            assert owner_client.get(url).status_code in (200, 302, 404, 405), name


def test_signing_out_takes_a_post():
    assert "get" not in LogoutView.http_method_names


def test_page_may_load_nothing_from_elsewhere(viewer_client, addresses):
    policy = viewer_client.get("/stock/").headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe-inline" not in policy


def test_every_page_has_one_heading_and_a_way_past_the_navigation(owner_client, addresses):
    for name in ("stock", "products", "suppliers", "movements", "settings", "item", "lot", "piece"):
        page = owner_client.get(addresses[name]).content.decode()
        assert page.count("<h1") == 1, name
        assert 'href="#content"' in page, name
        assert " style=" not in page, name
