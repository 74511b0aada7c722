from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import actions
from inventory.actions import PastRow
from inventory.errors import Refused
from inventory.models import Movement, PastBuild
from tests.factories import DAY, days, product

pytestmark = pytest.mark.django_db


def test_past_builds_are_kept_without_a_movement():
    trail, neck = product("TRAIL"), product("NECK")
    rows = [PastRow(trail, DAY, 12, 11, "from the notebook"), PastRow(neck, DAY, 6, 6)]
    assert actions.record_past_builds(rows=rows) == 2
    kept = PastBuild.objects.values_list("product__code", "day", "started", "good", "note")
    assert list(kept) == [("TRAIL", DAY, 12, 11, "from the notebook"), ("NECK", DAY, 6, 6, "")]
    assert not Movement.objects.exists()


def test_day_of_a_product_already_recorded_is_refused_by_name_and_nothing_is_kept():
    trail = product("TRAIL")
    actions.record_past_builds(rows=[PastRow(trail, DAY, 12, 12)])
    with pytest.raises(Refused, match="TRAIL on 3 Mar 2025 is recorded already"):
        actions.record_past_builds(rows=[PastRow(trail, days(1), 4, 4), PastRow(trail, DAY, 4, 4)])
    assert PastBuild.objects.count() == 1


def test_one_day_twice_in_one_list_is_refused():
    trail = product("TRAIL")
    with pytest.raises(Refused, match="TRAIL on 3 Mar 2025 is recorded already"):
        actions.record_past_builds(rows=[PastRow(trail, DAY, 4, 4), PastRow(trail, DAY, 2, 2)])


@pytest.mark.parametrize(
    ("day", "started", "good", "note", "match"),
    [
        (timezone.localdate() + timedelta(days=1), 4, 4, "", "TRAIL: .* is in the future"),
        (days(-99_999), 4, 4, "", "TRAIL: .* is before any record"),
        (DAY, 0, 0, "", "0 good of 0 started doesn't add up"),
        (DAY, 4, 5, "", "5 good of 4 started doesn't add up"),
        (DAY, 4, -1, "", "-1 good of 4 started doesn't add up"),
        (DAY, 99_999_999_999, 4, "", "99999999999 started on one day is more than 10000"),
        (DAY, 4, 4, "x" * 201, "TRAIL on 3 Mar 2025: .* at most 200 characters"),
    ],
    ids=[
        "to come",
        "before any record",
        "none started",
        "more good",
        "below none",
        "slipped",
        "long note",
    ],
)
def test_build_that_cannot_have_been_is_refused(day, started, good, note, match):
    rows = [PastRow(product("TRAIL"), day, started, good, note)]
    with pytest.raises(Refused, match=match):
        actions.record_past_builds(rows=rows)
    assert not PastBuild.objects.exists()
