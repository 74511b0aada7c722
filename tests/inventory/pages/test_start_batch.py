"""Starting a batch at the saw: one tap as planned, or what was really kept of a piece."""

import re
import uuid

import pytest

from inventory import actions
from inventory.errors import Refused
from inventory.queries.audit import audit
from tests import factories as make
from tests.factories import MM

pytestmark = pytest.mark.django_db


@pytest.fixture
def held(db):
    """Two blades of 240 from a bar of 1000: 517 are to be left."""
    steel = make.bar()
    make.rack(steel, 1000)
    return make.reserved(make.simple_knife("TRAIL", make.line(steel, 1, cut=(240 * MM, None))), 2)


def piece_of(batch):
    return batch.reservations.get().piece


def start(client, batch, **values):
    asked = {"key": uuid.uuid4(), "day": make.DAY, **values}
    return client.post(f"/batches/{batch.number}/start/", asked)


def lengths_left(piece):
    return [remnant.length_um for remnant in piece.remnants.all()]


def test_page_shows_each_piece_with_what_is_to_be_kept(maker_client, held):
    page = maker_client.get(f"/batches/{held.number}/start/").content.decode()
    label = piece_of(held).label
    assert f"Drawing of {label}" in page
    assert re.search(rf'name="kept-{label}"[^>]*>\s*517 mm', page)


def test_one_tap_books_the_cuts_as_planned(maker_client, held):
    piece = piece_of(held)
    start(maker_client, held, **{f"kept-{piece.label}": "517 mm"})
    held.refresh_from_db()
    assert held.state == "in_work"
    assert lengths_left(piece) == [517 * MM]


def test_blank_cut_twice_leaves_a_shorter_remnant(maker_client, held):
    piece = piece_of(held)
    start(maker_client, held, **{f"kept-{piece.label}": "275.5 mm"})
    assert lengths_left(piece) == [275_500]
    assert audit() == []


def test_remnant_that_was_thrown_away_is_not_kept(maker_client, held):
    piece = piece_of(held)
    start(maker_client, held, **{f"kept-{piece.label}": ""})
    assert lengths_left(piece) == []


def test_remnant_longer_than_what_the_cuts_leave_is_refused_and_nothing_starts(maker_client, held):
    piece = piece_of(held)
    answer = start(maker_client, held, **{f"kept-{piece.label}": "600 mm"})
    assert answer.status_code == 422
    assert "smaller than its parts and remnants together" in answer.content.decode()
    held.refresh_from_db()
    assert held.state == "reserved"


def test_page_of_a_batch_that_is_not_held_says_so_when_it_is_sent(maker_client):
    steel = make.bar()
    batch = make.plan(make.simple_knife("TRAIL", make.line(steel, 1, cut=(240 * MM, None))), 2)
    answer = start(maker_client, batch)
    assert "only one that is reserved can be started" in answer.content.decode()


def test_piece_that_the_plan_does_not_cut_is_refused(held):
    with pytest.raises(Refused, match="doesn't cut piece P-9"):
        actions.start_batch(batch=held, day=make.DAY, kept={"P-9": []})


def test_page_of_the_bar_says_how_it_is_really_cut(maker_client, held):
    # 2 x 240 of blade out of 483, remnant left out: 99.4 %.
    item = piece_of(held).lot.item
    start(maker_client, held)
    page = maker_client.get(f"{item.get_absolute_url()}prices/").content.decode()
    assert "99.4\u202f% of what the last 1 batch took became parts" in page


def test_start_tapped_twice_leads_to_the_batch_both_times(maker_client, held):
    piece = piece_of(held)
    sent = {"key": uuid.uuid4(), f"kept-{piece.label}": "275.5 mm"}
    for answer in (start(maker_client, held, **sent), start(maker_client, held, **sent)):
        assert answer.url == held.get_absolute_url()
    assert lengths_left(piece) == [275_500]
