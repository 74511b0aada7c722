"""How good the forecasts were, as the pages say it."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import ForecastRun, ForecastScore, ItemForecast
from tests import factories as make

pytestmark = pytest.mark.django_db
AHEAD = ForecastScore.Ahead
PAGE = "/forecast/accuracy/"


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def screws():
    make.shop()
    return make.screws()


def scored(item, uses, ahead=AHEAD.FOUR_WEEKS, **values):
    """A score for every use, one stretch of four weeks after the other up to now: 32 to 48 fit."""
    today = timezone.localdate()
    for back, used in enumerate(reversed(uses)):
        until = today - timedelta(weeks=4 * back)
        figures = {
            **{"mean": 40, "q05": 32, "q50": 40, "q80": 44, "q95": 48, "stands_apart": True},
            **values,
        }
        ForecastScore.objects.create(
            item=item,
            as_of=until - timedelta(weeks=4),
            ahead=ahead,
            until=until,
            used=used,
            **figures,
        )


def table(client, **asked):
    return client.get(PAGE, asked).context["table"].rows


def test_before_the_first_weeks_have_passed_the_page_says_when(viewer_client, screws):
    assert "No forecast is old enough yet" in viewer_client.get(PAGE).content.decode()


def test_shop_is_judged_by_stretch_and_those_that_ran_out_are_left_out(viewer_client, screws):
    scored(screws, [40, 40, 40, 60], error=0.5, loss=0.2)
    scored(make.epoxy(), [0], ran_out=True, stands_apart=False)
    scored(make.epoxy("GLUE"), [3], mean=0, q05=0, q50=0, q80=0, q95=0, stands_apart=False)
    ((row, words),) = viewer_client.get(PAGE).context["stretches"]
    assert (words, row.judged, row.left_out, row.unexpected) == ("about 4 weeks", 4, 1, 1)
    assert (row.share_held, row.share_above, row.mean_error) == (0.75, 0.25, 0.5)


def test_item_whose_range_fails_stands_first(viewer_client, screws):
    scored(make.item("A-GOOD", "fastener"), [40] * 10)
    scored(make.item("B-FEW", "fastener"), [90] * 3)
    scored(screws, [40, 60, 40, 60, 60, 60, 40])
    rows = [(row.record.item.code, row.record.verdict) for row in table(viewer_client)]
    assert rows == [
        ("SCREW-M4", "too narrow"),
        ("A-GOOD", "holds"),
        ("B-FEW", "too few to say"),
    ]


def test_stretches_that_share_days_are_not_counted_twice(viewer_client, screws):
    scored(screws, [60] * 5)
    scored(screws, [60] * 5, AHEAD.EIGHT_WEEKS, stands_apart=False)
    (row,) = table(viewer_client)
    assert row.record.verdict == "too few to say"
    assert row.record.judged == 10


def test_worst_of_the_stretches_is_shown(viewer_client, screws):
    scored(screws, [40] * 8)
    scored(screws, [60] * 8, AHEAD.LEAD_TIME)
    (row,) = table(viewer_client)
    assert (row.record.ahead, row.get_cell("ahead")) == ("lead", "its lead time")


def test_scores_older_than_a_year_do_not_count(viewer_client, screws):
    scored(screws, [90] * 6 + [40] * 13)
    (row,) = table(viewer_client)
    assert row.record.coverage.judged <= 14
    assert row.record.verdict == "holds"


def test_figures_come_as_csv(viewer_client, screws):
    scored(screws, [60] * 7, error=1.25)
    text = b"".join(viewer_client.get(f"{PAGE}?format=csv")).decode()
    assert "SCREW-M4,screw-m4,too narrow,7 of 7,about 4 weeks,1.25," in text


def test_page_says_how_many_runs_are_kept(viewer_client, screws, today):
    for back in (7, 0):
        ForecastRun.objects.create(
            as_of=today - timedelta(days=back), horizon_weeks=26, paths=2000, seed=1
        )
    assert "2 runs kept" in viewer_client.get(PAGE).content.decode()


@pytest.fixture
def item_page(viewer_client, screws, today):
    """The forecast page of the screws, without any use expected."""
    run = ForecastRun.objects.create(as_of=today, horizon_weeks=26, paths=2000, seed=1)
    ItemForecast.objects.create(
        run=run,
        item=screws,
        **dict.fromkeys(["service_level", "lead_low_days", "lead_high_days", "lead_seen"], 0),
        **dict.fromkeys(["use_per_week", "lead_demand_mean", "lead_demand_q05"], 0),
        **dict.fromkeys(["lead_demand_q95", "reorder_point", "safety_stock", "order_up_to"], 0),
        lead_mean_days=14,
    )
    return lambda: viewer_client.get("/forecast/items/SCREW-M4/").content.decode()


def test_failing_range_is_told_on_the_items_own_page(item_page, screws):
    scored(screws, [40, 60, 10, 60, 60, 60, 40])
    page = item_page()
    assert "of 7 stretches over about 4 weeks, 4 ended above it and 1 below" in page
    assert "Order earlier than the list says" in page


def test_range_that_is_too_high_calls_for_no_earlier_order(item_page, screws):
    scored(screws, [10] * 7)
    page = item_page()
    assert "was too narrow" in page
    assert "Order earlier" not in page


def test_item_page_lists_its_scores_in_words(item_page, screws):
    scored(screws, [40])
    scored(screws, [0], AHEAD.EIGHT_WEEKS, ran_out=True, stands_apart=False)
    page = item_page()
    assert "too few to say" in page
    assert "held" in page
    assert "ran out, left out" in page


def test_use_where_none_was_expected_is_counted_and_marked(viewer_client, item_page, screws):
    nothing = dict.fromkeys(("mean", "q05", "q50", "q80", "q95"), 0)
    scored(screws, [7, 3], stands_apart=False, **nothing)
    page = viewer_client.get(PAGE)
    (row,) = page.context["table"].rows
    assert (row.record.judged, row.record.unexpected) == (0, 2)
    assert "used though nothing at all was expected" in page.content.decode()
    assert "used, none was expected" in item_page()


def test_item_without_scores_says_so(item_page):
    assert "No forecast of it is old enough to be judged" in item_page()


def test_list_asks_the_database_the_same_however_many_items(
    viewer_client, screws, django_assert_max_num_queries
):
    for number in range(20):
        scored(make.screws(f"S-{number}"), [40] * 3)
    with django_assert_max_num_queries(10):
        viewer_client.get(PAGE)
