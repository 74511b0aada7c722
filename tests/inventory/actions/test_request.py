"""The same form sent twice acts once; a refused one can be sent again."""

import uuid

import pytest

from inventory import actions
from inventory.errors import AlreadyDone, NotEnough, Refused
from inventory.models import Lot, Movement, Posting, Request
from tests.factories import DAY, D, days, on_hand, screws, stock

pytestmark = pytest.mark.django_db

KEY = uuid.UUID("5f0c6f4e-6f5b-4c3a-9b69-3f1d3c2f6d11")


def test_same_form_sent_twice_acts_once_and_shows_the_first_result():
    item = screws()
    first = stock(item, 100, key=KEY)
    assert stock(item, 100, key=KEY) == first
    assert on_hand(item) == 100


def test_same_key_with_other_content_is_refused_and_the_first_entry_stands():
    item = screws()
    stock(item, 100, key=KEY)
    with pytest.raises(AlreadyDone, match="was sent before with other content"):
        stock(item, 200, key=KEY)
    assert on_hand(item) == 100


def test_same_key_for_another_action_is_refused():
    item = screws()
    stock(item, 100, key=KEY)
    with pytest.raises(AlreadyDone):
        actions.issue_stock(item=item, qty=D(100), day=DAY, reason="sample", key=KEY)


def test_same_key_from_another_person_is_refused(owner, maker):
    item = screws()
    stock(item, 100, key=KEY, by=owner)
    with pytest.raises(AlreadyDone):
        stock(item, 100, key=KEY, by=maker)


def test_other_key_acts_again():
    item = screws()
    stock(item, 100, key=KEY)
    stock(item, 100, key=uuid.uuid4())
    assert on_hand(item) == 200


def test_issue_that_emptied_the_shelf_is_answered_by_its_first_result_when_sent_again():
    item = screws()
    stock(item, 100)
    asked = {"item": item, "qty": D(100), "day": DAY, "reason": "sample", "key": KEY}
    assert actions.issue_stock(**asked) == actions.issue_stock(**asked)
    assert on_hand(item) == 0


def test_refused_form_leaves_its_key_free():
    item = screws()
    asked = {"item": item, "qty": D(3), "day": DAY, "reason": "sample", "key": KEY}
    with pytest.raises(NotEnough):
        actions.issue_stock(**asked)
    assert not Request.objects.exists()
    stock(item, 3)
    actions.issue_stock(**asked)
    assert on_hand(item) == 0


def test_action_without_a_record_to_show_returns_nothing_again():
    item = screws()
    lot = stock(item, 100)
    asked = {"lot": lot, "place": lot.balances.get().place, "counted": D(100), "day": DAY}
    assert actions.count_lot(**asked, reason="", key=KEY) is None
    assert actions.count_lot(**asked, reason="", key=KEY) is None


@pytest.mark.parametrize("qty", ["1e9999", "-1e30", "1e400", "NaN", "1e19", "1000000001"])
def test_number_larger_than_any_shop_is_refused_in_words(qty):
    with pytest.raises(Refused):
        stock(screws(), qty)
    assert not Lot.objects.exists()
    assert not Movement.objects.exists()


def test_action_that_fails_half_way_leaves_nothing(monkeypatch):
    """As if the process were killed after the movements, before the balances."""

    def power_cut(entries):
        raise KeyboardInterrupt

    monkeypatch.setattr("inventory.actions.posting._update_balances", power_cut)
    with pytest.raises(KeyboardInterrupt):
        stock(screws(), 100, key=KEY)
    assert not Lot.objects.exists()
    assert not Posting.objects.exists()
    assert not Request.objects.exists()


def test_past_days_may_be_entered_late():
    assert stock(screws(), 1, days(-400)).received_on == days(-400)
