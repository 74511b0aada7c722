"""Forms ask back where a count of a later day saw what is entered now, and one tick confirms it."""

import uuid

import pytest
from django.urls import reverse

from inventory import actions
from inventory.models import Posting
from inventory.queries.audit import audit
from tests import factories as make
from tests.factories import DAY, MM, D, days
from tests.visit import words

pytestmark = pytest.mark.django_db
SHELF, BENCH = "Shelf 1", "Bench"
TICK = 'type="checkbox" name="sure"'


@pytest.fixture(autouse=True)
def counted(db):
    """Screws and a bar that were used, and counted ten days after they came."""
    make.shop()
    where = {"place": make.place(SHELF)}
    make.place(BENCH)
    lot = make.stock(make.screws(place=make.place(SHELF)), 100, **where)
    actions.issue_stock(item=lot.item, qty=D(5), day=DAY, reason="repair")
    actions.count_lot(lot=lot, counted=D(90), day=days(10), reason="counted", **where)
    (piece,) = make.rack(make.bar(), 1000, **where)
    actions.count_piece(piece=piece, length_um=0, day=days(9), reason="counted")
    actions.count_piece(piece=piece, length_um=1000 * MM, day=days(10), reason="found")


def send(client, page, about, **typed):
    places = {name: make.place(where).pk for name, where in typed.pop("places", {}).items()}
    asked = {"key": uuid.uuid4(), "day": days(1), **typed, **places}
    return client.post(reverse(page, args=[about]), asked)


@pytest.mark.parametrize(
    ("page", "about", "typed", "question"),
    [
        ("use", "SCREW-M4", {"qty": "2", "reason": "repair"}, "this use already. Take it out"),
        ("use", "SCREW-M4", {"qty": "2", "reason": "scrap"}, "this scrap already. Scrap it"),
        (
            "lot-return",
            "L-0001",
            {"qty": "2", "reason": "repair"},
            "this return already. Return it",
        ),
        ("lot-found", "L-0001", {"qty": "2"}, "this find already. Enter it"),
        (
            "lot-move",
            "L-0001",
            {"qty": "2", "places": {"place_from": SHELF, "place_to": BENCH}},
            "this move already. Move it",
        ),
        ("piece-use", "P-0001", {"reason": "repair"}, "found it there. Take it out"),
        ("piece-cut", "P-0001", {"parts": "300 mm", "reason": "repair"}, "found it there. Cut it"),
        ("piece-move", "P-0001", {"places": {"place_to": BENCH}}, "found it there. Move it"),
    ],
    ids=["use", "scrap", "return", "found", "move", "use of a bar", "cut", "move of a bar"],
)
def test_form_asks_back_once_and_a_tick_books_it(maker_client, page, about, typed, question):
    before = Posting.objects.count()
    answer = send(maker_client, page, about, **typed)
    assert answer.status_code == 422
    assert "was counted on 13 Mar 2025, after 4 Mar 2025: the count" in words(answer)
    assert f"{question} all the same? If so, tick the last box." in words(answer)
    assert TICK in answer.content.decode()
    assert Posting.objects.count() == before
    assert send(maker_client, page, about, **typed, sure="on").status_code == 302
    assert Posting.objects.count() == before + 1
    assert audit() == []


@pytest.mark.parametrize("day", [days(10), ""], ids=["on the day of the count", "today"])
def test_use_that_no_count_can_have_seen_is_booked_by_one_tap(maker_client, day):
    answer = send(maker_client, "use", "SCREW-M4", qty="2", reason="repair", day=day)
    assert answer.status_code == 302


def test_day_before_the_lot_came_is_refused_and_no_tick_is_offered(maker_client):
    lot = make.stock(make.screws("SCREW-M3"), 9).pk
    answer = send(maker_client, "use", "SCREW-M3", qty="2", reason="repair", lot=lot, day=days(-1))
    assert answer.status_code == 422
    assert "came in on 3 Mar 2025, after 2 Mar 2025. Enter a later day" in words(answer)
    assert TICK not in answer.content.decode()


def test_batch_started_before_its_bar_was_counted_asks_back(maker_client):
    bar = make.bar("BAR-5X30")
    (piece,) = make.rack(bar, 1000)
    knife = make.simple_knife("TRAIL", make.line(bar, 1, cut=(240 * MM, None)))
    batch = make.reserved(knife, 2)
    count = actions.start_count(day=DAY, kind="bar")
    actions.enter_piece(line=count.lines.get(piece=piece), length_um=piece.length_um)
    typed = {"key": uuid.uuid4(), "day": days(1), f"kept-{piece.label}": "517 mm"}
    page = f"/batches/{batch.number}/start/"
    answer = maker_client.post(page, typed)
    assert (answer.status_code, TICK in answer.content.decode()) == (422, True)
    assert maker_client.post(page, {**typed, "sure": "on"}).status_code == 302
    batch.refresh_from_db()
    assert batch.state == "in_work"
