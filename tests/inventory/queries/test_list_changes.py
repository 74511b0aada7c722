"""What changed on the reorder list since an earlier forecast, and why."""

import pytest

from inventory import actions
from inventory.actions.note_list import note_list
from inventory.models import ForecastRun
from inventory.queries.list_changes import list_changes, runs_to_compare
from inventory.queries.reorder_list import reorder_list
from tests import factories as make
from tests.factories import DAY, D, days

pytestmark = pytest.mark.django_db


@pytest.fixture
def screws():
    make.shop(review_days=7)
    item = make.screws()
    make.stock(item, 100, days(-60))
    make.offer(item, pack_qty=D(10), pack_name="bag of 10")
    return item


def run(as_of=DAY, **values):
    figures = {"horizon_weeks": 26, "paths": 2000, "seed": 1, **values}
    return ForecastRun.objects.create(as_of=as_of, **figures)


def foretell(run, item, reorder_point=50, **values):
    """Ten a week, as if the run had stored it, and the list as it stands then."""
    make.item_forecast(run, item, reorder_point=reorder_point, **values)
    note_list(run=run)


def changes(since=None, day=DAY):
    listed = reorder_list(day)
    return list_changes(listed, since or runs_to_compare(listed.run)[0])


def change(item):
    return changes().lines[item.pk]


def test_line_that_changed_in_nothing_has_no_words(screws):
    for day in (days(-7), DAY):
        foretell(run(day), screws, 120)
    assert (change(screws).is_new, change(screws).words) == (False, "")


def test_new_line_tells_that_stock_fell(screws):
    foretell(run(days(-7)), screws, 80)
    actions.issue_stock(item=screws, qty=D(40), day=days(-3), reason="repair")
    foretell(run(), screws, 80)
    assert change(screws).is_new
    assert change(screws).words == "stock and orders fell from 100 to 60"


@pytest.mark.parametrize(
    ("before", "after", "why"),
    [
        ({}, {"use_per_week": 14}, "use rose from 10 to 14 a week"),
        ({}, {"lead_mean_days": 21}, "lead time grew from 14 to 21 days"),
        ({"lead_mean_days": 30}, {}, "lead time shrank from 30 to 14 days"),
        ({}, {"service_level": 0.99}, "service level 99.0%, not 95.0%"),
        ({}, {"use_factor": 1.2}, "batches really took 1.20 times the bill, not 1.00"),
        ({}, {}, ""),
    ],
    ids=["use", "later", "sooner", "service", "as really used", "nothing the runs tell"],
)
def test_line_says_why_its_reorder_point_moved(screws, before, after, why):
    foretell(run(days(-7)), screws, 110, **before)
    foretell(run(), screws, 130, **after)
    moved = "reorder point up from 110 to 130"
    words = change(screws).words
    assert words.endswith(f"{moved}: {why}" if why else moved)
    assert words.startswith("16 × bag of 10 instead of 12; ")


def test_batch_planned_since_is_named(screws):
    foretell(run(days(-7), plan={"B-1": {"TRAIL": 10}}), screws, 110)
    plan = {"B-1": {"TRAIL": 10}, "B-2": {"TRAIL": 20}, "B-3": {"NECK": 20}}
    foretell(run(plan=plan), screws, 130)
    assert "reorder point up from 110 to 130: batch B-2 was planned" in change(screws).words


def test_many_batches_are_named_in_part(screws):
    foretell(run(days(-7)), screws, 110)
    foretell(run(plan={f"B-{n}": {"TRAIL": 1} for n in range(5)}), screws, 130)
    assert "batches B-0, B-1, B-2 and 2 more were planned" in change(screws).words


def test_bill_changed_since_is_named_when_it_moved_this_items_use(screws):
    other = make.item("OTHER", "fastener")
    before, after = run(days(-7), bills={"TRAIL": 1}), run(bills={"TRAIL": 2})
    foretell(before, screws, 110)
    foretell(before, other, 110)
    foretell(after, screws, 130, per_knife={"TRAIL": 3.0})
    foretell(after, other, 130)
    assert "bill of TRAIL was changed" in change(screws).words
    assert "bill of" not in change(other).words


def test_small_move_of_the_reorder_point_is_not_told(screws):
    foretell(run(days(-7)), screws, 110, order_up_to=220)
    foretell(run(), screws, 113, order_up_to=220)
    assert change(screws).words == ""


def test_item_not_forecast_then_is_new(screws):
    run(days(-7))
    foretell(run(), screws, 120)
    assert change(screws).is_new
    assert change(screws).words == "it wasn't forecast then"


@pytest.mark.parametrize(
    ("deed", "words"),
    [
        ("draft", "50 in a draft order"),
        ("send", "50 on order"),
        ("receive", "stock grew from 100 to 150"),
        ("snooze", "put aside until 24 Mar 2025"),
        ("less use", "reorder point down from 120 to 80: use fell from 10 to 5 a week"),
    ],
)
def test_line_that_is_gone_says_why(screws, deed, words):
    foretell(run(days(-7)), screws, 120)
    use = {"use_per_week": 5} if deed == "less use" else {}
    foretell(run(), screws, 80 if use else 120, **use)
    offer = screws.offers.get()
    if deed == "draft":
        actions.draft_order(supplier=offer.supplier, lines=[(offer, 5)], day=DAY)
    elif deed == "send":
        make.order(offer, 5)
    elif deed == "receive":
        make.stock(screws, 50)
    elif deed == "snooze":
        out = reorder_list(DAY).lines[0].runs_out.expected
        actions.snooze_item(item=screws, until=days(21), day=DAY, runs_out=out)
    (gone,) = changes().gone
    assert (gone.item, gone.words) == (screws, words)


def test_item_of_which_no_use_is_expected_any_more_is_gone(screws):
    foretell(run(days(-7)), screws, 120)
    run()
    (gone,) = changes().gone
    assert gone.words == "no use of it is expected any more"


def test_list_is_compared_with_the_last_look_and_on_request_with_the_run_before(screws):
    runs = [run(days(back)) for back in (-15, -8, -2, -1, 0)]
    assert runs_to_compare(runs[-1]) == [runs[1], runs[3]]
    assert runs_to_compare(runs[1]) == [runs[0]]
    assert runs_to_compare(runs[0]) == []


def test_while_no_run_is_as_old_as_a_look_the_oldest_is_compared_with(screws):
    runs = [run(days(back)) for back in (-3, -1, 0)]
    assert runs_to_compare(runs[-1]) == [runs[0], runs[1]]


def test_run_that_failed_is_not_compared_with(screws):
    run(days(-7), state="failed")
    assert runs_to_compare(run()) == []
