import numpy as np

from forecasting.paths import Paths, no_events

TWO_FUTURES = Paths(
    day=np.array([[2.0, 9.0], [5.0, np.inf]]),
    qty=np.array([[10.0, 20.0], [30.0, 40.0]]),
    batches=np.array([[1.0, 1.0], [2.0, 1.0]]),
)


def test_events_count_on_their_day_and_after():
    qty, batches = TWO_FUTURES.until(5)
    assert qty.tolist() == [10.0, 30.0]
    assert batches.tolist() == [1.0, 2.0]


def test_each_path_can_have_its_own_last_day():
    assert TWO_FUTURES.until(np.array([9.0, 4.0]))[0].tolist() == [30.0, 0.0]


def test_several_days_give_the_same_as_one_after_the_other():
    days = np.array([1.0, 2.0, 6.0, 40.0])
    qty, batches = TWO_FUTURES.by_day(days)
    assert qty.tolist() == [TWO_FUTURES.until(day)[0].tolist() for day in days]
    assert batches.tolist() == [TWO_FUTURES.until(day)[1].tolist() for day in days]


def test_empty_futures_use_nothing():
    assert no_events(3).by_day(np.array([5.0]))[0].tolist() == [[0.0, 0.0, 0.0]]
