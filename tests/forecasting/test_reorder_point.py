from datetime import date, timedelta

import pytest

from forecasting.errors import OutOfRange
from forecasting.reorder_point import Arrival, WeekUse, order_by, run_out, safety_factor

WEDNESDAY = date(2026, 11, 25)
MONDAY = date(2026, 11, 23)


def steady(per_week, high_per_week, weeks=10):
    return [
        WeekUse(MONDAY + timedelta(weeks=n), per_week * (n + 5 / 7), high_per_week * (n + 5 / 7))
        for n in range(weeks)
    ]


def test_steady_use_runs_out_on_the_day_it_exceeds_stock():
    answer = run_out(20, [], steady(7, 14), as_of=WEDNESDAY)
    assert answer.expected == WEDNESDAY + timedelta(days=20)
    assert answer.early == WEDNESDAY + timedelta(days=10)


def test_arrival_in_time_moves_the_run_out_date():
    arrival = Arrival(WEDNESDAY + timedelta(days=5), 10)
    answer = run_out(20, [arrival], steady(7, 14), as_of=WEDNESDAY)
    assert answer.expected == WEDNESDAY + timedelta(days=30)


def test_arrival_after_the_shortage_does_not_hide_it():
    arrival = Arrival(WEDNESDAY + timedelta(days=21), 1000)
    answer = run_out(20, [arrival], steady(7, 14), as_of=WEDNESDAY)
    assert answer.expected == WEDNESDAY + timedelta(days=20)


def test_overdue_arrival_is_not_counted():
    overdue = Arrival(WEDNESDAY - timedelta(days=1), 1000)
    answer = run_out(20, [overdue], steady(7, 14), as_of=WEDNESDAY)
    assert answer.expected == WEDNESDAY + timedelta(days=20)


def test_enough_stock_does_not_run_out_in_sight():
    answer = run_out(1000, [], steady(7, 14), as_of=WEDNESDAY)
    assert (answer.expected, answer.early) == (None, None)


def test_empty_shelf_with_use_runs_out_today():
    assert run_out(0, [], steady(7, 14), as_of=WEDNESDAY).expected == WEDNESDAY


def test_empty_shelf_without_use_does_not_run_out():
    assert run_out(0, [], steady(0, 0), as_of=WEDNESDAY).expected is None


def test_order_by_is_a_lead_time_before_the_run_out_date():
    assert order_by(date(2027, 1, 14), 20.2) == date(2026, 12, 24)


def test_order_by_is_open_when_nothing_runs_out():
    assert order_by(None, 21) is None


@pytest.mark.parametrize("level", [0, 1, 95])
def test_service_level_outside_0_and_1_is_refused(level):
    with pytest.raises(OutOfRange, match=f"write 0.95 for 95 %.*got {level}"):
        safety_factor(level)
