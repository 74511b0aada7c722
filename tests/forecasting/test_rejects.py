import pytest

from forecasting.errors import OutOfRange
from forecasting.rejects import start_quantity


def test_batch_without_rejects_starts_what_is_wanted():
    answer = start_quantity(12, [1.0, 1.0], 0.9)
    assert (answer.start, answer.chance_enough, answer.entering) == (12, 1.0, (12, 12))


def test_each_step_gets_the_knives_expected_to_reach_it():
    answer = start_quantity(24, [0.97, 0.95, 0.98], 0.9)
    assert answer.start == 29
    assert answer.entering == (29, 29, 27)
    assert answer.expected_good == pytest.approx(29 * 0.97 * 0.95 * 0.98)


def test_step_never_gets_fewer_knives_than_are_wanted():
    assert start_quantity(10, [0.5, 0.9], 0.05).entering[-1] == 10


def test_twenty_knives_at_95_percent_are_nineteen_not_twenty():
    assert start_quantity(17, [0.95, 0.9], 0.5).entering == (20, 19)


def test_routing_without_steps_has_no_rejects():
    answer = start_quantity(5, [], 0.95)
    assert (answer.start, answer.entering) == (5, ())


def test_nothing_wanted_starts_nothing():
    assert start_quantity(0, [0.9], 0.95).start == 0


def test_large_batch_with_poor_yield_is_answered():
    answer = start_quantity(600, [0.4], 0.95)
    assert 1500 < answer.start < 1650


@pytest.mark.parametrize(
    ("good", "yields", "confidence", "message"),
    [
        (-1, [0.9], 0.9, "good must be 0 or more, but got -1"),
        (5, [0.9, 0.0], 0.9, "yield of step 2 must lie above 0 and up to 1, but got 0.0"),
        (5, [1.2], 0.9, "yield of step 1"),
        (5, [0.9], 1.0, "confidence must lie between 0 and 1"),
    ],
    ids=["good", "no-yield", "yield-above-1", "certainty"],
)
def test_impossible_numbers_are_refused(good, yields, confidence, message):
    with pytest.raises(OutOfRange, match=message):
        start_quantity(good, yields, confidence)


def test_ten_to_ship_with_one_in_ten_scrapped_start_more_than_ten():
    answer = start_quantity(10, [0.97, 0.95, 0.98], 0.5)
    assert answer.start == 11
    assert answer.entering == (11, 11, 11)
    assert start_quantity(10, [0.97, 0.95, 0.98], 0.95).start == 13
