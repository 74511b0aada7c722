import numpy as np
import pytest

from forecasting.rival_rules import mean_and_deviation, min_max, smoothed, smoothed_normal

EVEN = np.full((1, 24), 5.0)


def test_even_use_needs_no_safety_stock():
    assert mean_and_deviation(EVEN, 3, [0, 2]).order_up_to.tolist() == [[15], [15]]
    assert smoothed_normal(EVEN, 3, [0, 2], 0.2).order_up_to.tolist() == [[15], [15]]


def test_safety_stock_grows_with_the_root_of_the_time_it_must_last():
    # Periods of 2 and 8: mean 5, standard deviation 3; over 4 periods 20 and 6.
    history = np.array([[2.0, 8.0] * 12])
    assert mean_and_deviation(history, 4, [0, 1, 2]).order_up_to[:, 0] == pytest.approx(
        [20, 26, 32]
    )


def test_level_follows_by_its_share_of_each_error():
    # Six periods of 4 give the start; then 10 moves it by 0.5 x 6, and 1 by 0.5 x -6.
    history = np.array([[4.0] * 6 + [10.0, 1.0]])
    level, square = smoothed(history, 0.5)
    assert level.tolist() == [4]
    assert square[0] == pytest.approx((36 + 36) / 8)


def test_errors_of_the_first_year_are_left_out_once_two_years_are_known():
    wild_start = np.array([[0.0, 8.0] * 3 + [4.0] * 30])
    _, square = smoothed(wild_start, 0.1)
    assert square[0] < 0.1


def test_smoothed_errors_forget_the_past():
    calmer = np.array([[0.0, 8.0] * 12 + [4.0] * 24])
    averaged = smoothed(calmer, 0.1)[1]
    assert smoothed(calmer, 0.1, 0.1)[1] < averaged / 4


def test_minimum_is_so_many_times_the_usual_use_and_the_maximum_two_periods_more():
    grown = np.array([[1.0] * 12 + [5.0] * 12])
    levels = min_max(grown, 3, [1, 2])
    assert levels.reorder_point.tolist() == [[15], [30]]
    assert levels.order_up_to.tolist() == [[25], [40]]


@pytest.mark.parametrize("rule", [mean_and_deviation, min_max])
def test_periods_not_known_are_passed_over(rule):
    holes = EVEN.copy()
    holes[0, [0, 7, 20]] = np.nan
    assert (rule(holes, 3, [1]).order_up_to == rule(EVEN, 3, [1]).order_up_to).all()


def test_smoothing_passes_over_periods_not_known():
    level, square = smoothed(np.array([[np.nan, 4.0, np.nan, 6.0]]), 0.5)
    assert np.isfinite([level, square]).all()


def test_series_without_any_known_period_asks_for_nothing():
    nothing = np.full((1, 5), np.nan)
    assert mean_and_deviation(nothing, 2, [3]).order_up_to == 0
    assert smoothed_normal(nothing, 2, [3], 0.1, 0.1).order_up_to == 0


def test_no_rule_asks_for_less_than_nothing():
    history = np.array([[0.0, 9.0] * 12])
    assert (mean_and_deviation(history, 3, [-5]).order_up_to == 0).all()
