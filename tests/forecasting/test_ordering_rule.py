import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from forecasting.errors import OutOfRange
from forecasting.ordering_rule import Levels, play, play_many


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


def test_many_items_are_played_as_each_alone():
    rng = np.random.default_rng(3)
    demand = rng.poisson(2.0, (5, 60)).astype(float)
    points, up_to = np.array([[2.0], [5.0], [9.0]]), np.array([[8.0], [9.0], [20.0]])
    rules = [Levels(points, up_to)] * 60
    many = play_many(demand, rules, start=up_to, lead=3, review=2)
    for rule in range(3):
        for item in range(5):
            level = Levels(points[rule, 0], up_to[rule, 0])
            terms = {"start": level.order_up_to, "lead": 3, "review": 2}
            alone = play(demand[item].tolist(), [level] * 60, **terms)
            assert many.fill_rate[rule, item] == pytest.approx(alone.fill_rate)
            assert many.mean_stock[rule, item] == pytest.approx(alone.mean_stock)
            assert many.mean_waiting[rule, item] == pytest.approx(alone.mean_waiting)
            assert many.periods_short[rule, item] == alone.periods_short
            assert many.orders[rule, item] == alone.orders


def test_screws_of_a_month_played_by_hand():
    # Order up to 10, lead time 1, weekly look. Start 10.
    # 1: position 10, no order; use 4, left 6.   2: order 4; use 5, left 1.
    # 3: 4 come, position 5, order 5; use 7, 2 wait.   4: 5 come, order 7; use 1, left 2.
    demand, level = np.array([[4.0, 5.0, 7.0, 1.0]]), Levels(np.array([9.0]), np.array([10.0]))
    played = play_many(demand, [level] * 4, start=10, lead=1)
    assert played.mean_stock == (6 + 1 + 0 + 2) / 4
    assert played.mean_waiting == 2 / 4
    assert played.served_at_once == 4 + 5 + 5 + 1
    assert (played.orders, played.periods_short) == (3, 1)
    assert (played.ordered, played.received, played.on_order) == (16, 9, 7)


def test_later_order_may_come_before_an_earlier_one():
    # Order up to 10: 3 ordered in week 2 for week 6, 4 ordered in week 3 for the same week.
    demand, level = np.array([[3.0, 4.0, 0.0, 0.0, 0.0]]), Levels(np.array([9.0]), np.array([10.0]))
    played = play_many(demand, [level] * 5, start=10, lead=np.array([[1, 4, 0, 1, 1]]))
    assert (played.ordered, played.received, played.on_order) == (7, 4, 3)
    assert played.on_hand == 7


def test_first_periods_are_played_but_not_counted():
    demand, level = np.array([[9.0, 1.0, 1.0]]), Levels(np.array([4.0]), np.array([5.0]))
    played = play_many(demand, [level] * 3, start=5, lead=0, not_counted=1)
    assert played.demand == 2
    assert played.fill_rate == 1
    assert played.ordered == 10


COUNTS = st.integers(0, 9)


@st.composite
def games(draw):
    items, periods = draw(st.integers(1, 3)), draw(st.integers(1, 12))
    demand = draw(arrays(float, (items, periods), elements=COUNTS))
    point = draw(arrays(float, (2, items), elements=COUNTS))
    more = draw(arrays(float, (2, items), elements=COUNTS))
    lead = draw(arrays(int, (items, periods), elements=st.integers(0, 5)))
    return demand, Levels(point, point + more), lead, draw(st.integers(1, 3))


@given(games())
def test_nothing_is_lost_between_order_and_shelf(game):
    demand, level, lead, review = game
    start = level.order_up_to
    played = play_many(demand, [level] * demand.shape[1], start=start, lead=lead, review=review)
    assert (played.ordered == played.received + played.on_order).all()
    left = start + played.received - demand.sum(axis=1)
    assert (left == played.on_hand - played.waiting).all()


@given(games())
def test_demand_is_met_or_waits_and_stock_is_never_below_nothing(game):
    demand, level, lead, review = game
    played = play_many(
        demand, [level] * demand.shape[1], start=level.order_up_to, lead=lead, review=review
    )
    for amount in (played.on_hand, played.waiting, played.on_order, played.mean_stock):
        assert (amount >= 0).all()
    assert (played.on_hand * played.waiting == 0).all()
    assert (played.served_at_once <= played.demand).all()
    assert ((played.fill_rate >= 0) & (played.fill_rate <= 1)).all()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"levels": []}, "levels must have 2 periods, but got 0"),
        ({"lead": -1}, "lead must not be negative"),
        ({"review": 0}, "review must be 1 period or more"),
        ({"not_counted": 2}, "not_counted must be 0 to 1, but got 2"),
    ],
    ids=["levels", "lead", "review", "not counted"],
)
def test_impossible_terms_for_many_are_refused(change, message):
    terms = {"levels": [Levels(1, 5)] * 2, "start": 5, "lead": 1} | change
    with pytest.raises(OutOfRange, match=message):
        play_many(np.array([[1.0, 2.0]]), **terms)
