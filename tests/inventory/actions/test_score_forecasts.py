"""A stored forecast is scored once, when its weeks have passed, against what the ledger says."""

from datetime import timedelta

import pytest

from inventory import actions
from inventory.actions.score_forecasts import score_forecasts
from inventory.models import ForecastRun, ForecastScore, ItemForecast
from tests import factories as make
from tests.factories import DAY, D, days

pytestmark = pytest.mark.django_db
AHEAD = ForecastScore.Ahead


@pytest.fixture
def screws():
    """Screws in stock for a year: enough for everything."""
    make.shop()
    item = make.screws()
    make.stock(item, 1000, days(-365))
    return item


def foretell(item, as_of=DAY, per_week=10.0, lead_days=14, state="done"):
    """Ten a week, eight to twelve nine times in ten, as a run of that day (a Monday) said."""
    run = ForecastRun.objects.create(as_of=as_of, horizon_weeks=26, paths=2000, seed=1, state=state)
    monday = as_of - timedelta(days=as_of.weekday())
    weeks = [
        [
            (monday + timedelta(weeks=n)).isoformat(),
            *(per_week * (n + 1) * share for share in (1, 0.8, 1, 1.1, 1.2)),
        ]
        for n in range(26)
    ]
    return ItemForecast.objects.create(
        run=run,
        item=item,
        demand_class="lumpy",
        model="batches of its products",
        service_level=0.95,
        lead_mean_days=lead_days,
        lead_low_days=10,
        lead_high_days=20,
        lead_seen=3,
        use_per_week=per_week,
        lead_demand_mean=30,
        lead_demand_q05=20,
        lead_demand_q95=40,
        reorder_point=40,
        safety_stock=10,
        order_up_to=80,
        weeks=weeks,
    )


def use(item, qty, day):
    return actions.issue_stock(item=item, qty=D(qty), day=day, reason="repair")


def score(ahead=AHEAD.FOUR_WEEKS):
    return ForecastScore.objects.get(ahead=ahead)


def test_nothing_is_scored_before_its_weeks_are_over(screws):
    foretell(screws)
    assert score_forecasts(day=days(13 + 2)) == 0
    assert score_forecasts(day=days(13 + 3)) == 1  # the lead time, and three days for late entries
    assert score_forecasts(day=days(27 + 3)) == 1
    assert score_forecasts(day=days(55 + 3)) == 1
    assert {each.ahead for each in ForecastScore.objects.all()} == set(AHEAD)


def test_score_is_worked_out_once(screws):
    foretell(screws)
    assert score_forecasts(day=days(90)) == 3
    use(screws, 7, days(3))
    assert score_forecasts(day=days(91)) == 0
    assert score().used == 0


def test_use_after_the_day_of_the_forecast_and_up_to_the_last_day_counts(screws):
    foretell(screws)
    for day in (0, 1, 27, 28):
        use(screws, 10 ** (day % 3 + 1), days(day))
    score_forecasts(day=days(40))
    stretch = score()
    assert (stretch.as_of, stretch.until) == (DAY, days(27))
    assert stretch.used == 100 + 10
    assert (stretch.mean, stretch.q05, stretch.q95) == (40, 32, 48)
    assert not stretch.held


def test_batches_count_and_what_came_back_or_was_undone_does_not(screws):
    knife = make.simple_knife("TRAIL", make.line(screws, 3))
    foretell(screws)
    make.actions.finish_batch(batch=make.in_work(knife, 5, days(2)), day=days(2))
    taken = use(screws, 9, days(4))
    actions.return_stock(
        lot=screws.lots.get(),
        qty=D(4),
        day=days(5),
        reason="left over",
        place=make.where(screws.lots.get()),
    )
    actions.reverse_posting(posting=use(screws, 50, days(6)), day=days(7))
    score_forecasts(day=days(40))
    assert taken.movements.get().qty == -9
    assert score().used == 5 * 3 + 9 - 4


def test_what_a_count_finds_missing_is_no_use(screws):
    foretell(screws)
    lot = screws.lots.get()
    actions.count_lot(
        lot=lot, place=make.where(lot), counted=D(950), day=days(3), reason="miscounted"
    )
    score_forecasts(day=days(40))
    assert score().used == 0


def test_what_is_thrown_away_is_no_use(screws):
    foretell(screws)
    use(screws, 40, days(3))
    actions.issue_stock(item=screws, qty=D(500), day=days(5), reason="scrap")
    score_forecasts(day=days(40))
    assert {each.used for each in ForecastScore.objects.all()} == {40}


def test_stretch_without_any_on_hand_for_a_week_is_marked_and_not_judged(screws):
    foretell(screws)
    use(screws, 1000, days(5))
    make.stock(screws, 50, days(12))
    score_forecasts(day=days(40))
    assert score().ran_out
    assert not score().is_judged
    assert not score().stands_apart


def test_few_days_without_any_leave_the_score_standing(screws):
    foretell(screws)
    use(screws, 1000, days(5))
    make.stock(screws, 50, days(11))
    score_forecasts(day=days(40))
    assert not score().ran_out


def test_item_of_which_nothing_was_expected_nor_used_is_not_scored(screws):
    foretell(screws, per_week=0.0)
    assert score_forecasts(day=days(90)) == 0
    use(screws, 1, days(2))
    assert score_forecasts(day=days(90)) == 3
    assert not score().is_judged


def test_error_is_in_units_of_the_usual_change_between_such_stretches(screws):
    # 20 and 40 in turn over the stretches before: the usual change is 20.
    foretell(screws)
    for number in range(1, 14):
        use(screws, 20 if number % 2 else 40, days(-27 * number + 5))
    use(screws, 70, days(10))
    score_forecasts(day=days(40))
    assert score().scale == pytest.approx(20)
    assert score().error == pytest.approx((70 - 40) / 20)
    # pinball losses of 70 against 32, 40, 44, 48 at 5, 50, 80 and 95 %
    assert score().loss == pytest.approx((38 * 0.05 + 30 * 0.5 + 26 * 0.8 + 22 * 0.95) / 4 / 20)


def test_without_a_past_there_is_no_scale(screws):
    foretell(screws)
    use(screws, 3, days(3))
    score_forecasts(day=days(40))
    assert (score().scale, score().error, score().loss) == (None, None, None)


def test_only_stretches_that_share_no_day_stand_apart(screws):
    for week in range(9):
        foretell(screws, days(7 * week))
    score_forecasts(day=days(150))
    apart = ForecastScore.objects.filter(ahead=AHEAD.FOUR_WEEKS, stands_apart=True)
    assert [each.as_of for each in apart.order_by("as_of")] == [DAY, days(28), days(56)]


def test_run_that_is_not_whole_is_not_scored(screws):
    foretell(screws, state="failed")
    assert score_forecasts(day=days(90)) == 0


def test_of_two_runs_of_one_day_the_later_is_scored(screws):
    foretell(screws, per_week=5.0)
    foretell(screws, per_week=10.0)
    score_forecasts(day=days(90))
    assert score().mean == 40


def test_forecast_made_on_a_sunday_is_scored_to_the_nearest_sunday(screws):
    foretell(screws, days(6))
    score_forecasts(day=days(90))
    assert score().until == days(6 + 28)


def test_what_a_batch_takes_counts_on_the_day_it_began_however_late_it_is_booked(screws):
    foretell(screws)
    batch = make.in_work(make.simple_knife("TRAIL", make.line(screws, 3)), 4, days(5))
    held = sum(each.qty for each in batch.reservations.filter(is_open=True))
    assert held > 0
    score_forecasts(day=days(30))
    assert score().used == held
    ForecastScore.objects.all().delete()
    actions.finish_batch(batch=batch, day=days(29))
    score_forecasts(day=days(32))
    assert score().used == -sum(
        line.qty for posting in batch.postings.all() for line in posting.movements.all()
    )


def test_batch_begun_before_the_forecast_does_not_count(screws):
    batch = make.in_work(make.simple_knife("TRAIL", make.line(screws, 3)), 4, days(-3))
    foretell(screws)
    actions.finish_batch(batch=batch, day=days(4))
    score_forecasts(day=days(40))
    assert score().used == 0
