import pytest

from forecasting.errors import OutOfRange
from forecasting.ordering_rule import Levels, play


def test_steady_demand_is_served_when_stock_lasts_the_lead_time():
    played = play([5] * 40, [Levels(15, 30)] * 40, start=30, lead=2)
    assert (played.fill_rate, played.periods_short) == (1.0, 0)
    assert played.orders == 13


def test_reorder_point_too_low_leaves_demand_waiting_that_is_served_later():
    played = play([5] * 40, [Levels(5, 30)] * 40, start=30, lead=3)
    assert played.fill_rate < 1
    assert played.mean_waiting > 0


def test_reviewing_seldom_needs_more_stock():
    often = play([5] * 42, [Levels(15, 30)] * 42, start=30, lead=2)
    seldom = play([5] * 42, [Levels(15, 30)] * 42, start=30, lead=2, review=7)
    assert seldom.periods_short > often.periods_short


def test_levels_can_change_while_playing():
    levels = [Levels(0, 5)] * 20 + [Levels(20, 50)] * 20
    assert play([1] * 40, levels, start=5, lead=0).mean_stock > 10


def test_without_demand_everything_is_served():
    assert play([0, 0], [Levels(1, 5)] * 2, start=5, lead=1).fill_rate == 1.0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"levels": []}, "levels must have 2 periods, but got 0"),
        ({"demand": [], "levels": []}, "demand must have at least one period"),
        ({"lead": -1}, "lead must not be negative"),
        ({"review": 0}, "review must be 1 period or more"),
    ],
    ids=["levels", "empty", "lead", "review"],
)
def test_impossible_terms_are_refused(change, message):
    terms = {"demand": [1, 2], "levels": [Levels(1, 5)] * 2, "start": 5, "lead": 1} | change
    with pytest.raises(OutOfRange, match=message):
        play(**terms)
