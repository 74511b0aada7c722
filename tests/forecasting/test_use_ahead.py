"""Use ahead as it is read from a stored forecast."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.errors import OutOfRange
from forecasting.use_ahead import UseAhead

CHANCES = (0.05, 0.5, 0.8, 0.95)
SCREWS = UseAhead(
    days=(7, 14, 21),
    means=(10, 20, 30),
    quantiles=((2, 9, 14, 20), (6, 19, 26, 34), (12, 30, 38, 48)),
    chances=CHANCES,
)


def test_use_between_two_weeks_lies_on_a_straight_line():
    assert SCREWS.mean(10.5) == 15
    assert SCREWS.quantile(10.5, 0.5) == 14
    assert SCREWS.quantile(3.5, 0.95) == 10


def test_nothing_is_used_by_now():
    assert SCREWS.mean(0) == 0
    assert SCREWS.quantile(0, 0.95) == 0


@pytest.mark.parametrize(("chance", "qty"), [(0, 0), (0.05, 12), (0.275, 21), (0.95, 48), (1, 58)])
def test_quantile_between_two_told_lies_on_a_straight_line(chance, qty):
    assert SCREWS.quantile(21, chance) == pytest.approx(qty)


def test_beyond_the_weeks_told_the_mean_goes_on_and_its_spread_with_the_root_of_time():
    assert SCREWS.mean(84) == 120
    assert SCREWS.quantile(84, 0.95) == pytest.approx(120 + 2 * 18)
    assert SCREWS.quantile(84, 0.05) == pytest.approx(120 - 2 * 18)


@pytest.mark.parametrize(
    ("qty", "chance"),
    [(0, 1), (6, 0.975), (12, 0.95), (30, 0.5), (43, 0.125), (53, 0.025), (99, 0)],
)
def test_chance_of_reaching_a_quantity_is_the_other_side_of_the_quantiles(qty, chance):
    assert SCREWS.chance_reached(qty, 21) == pytest.approx(chance)


@given(st.floats(0.01, 0.99), st.floats(1, 200))
def test_quantile_is_reached_as_often_as_it_says(chance, day):
    qty = SCREWS.quantile(day, chance)
    assert SCREWS.chance_reached(qty, day) == pytest.approx(1 - chance, abs=1e-6)


@given(st.floats(0, 150), st.floats(1, 100), st.floats(0, 100))
def test_more_days_never_make_a_quantity_less_likely(qty, day, more):
    assert SCREWS.chance_reached(qty, day + more) >= SCREWS.chance_reached(qty, day) - 0.05


@given(st.floats(-5, 150))
def test_chances_of_all_weeks_are_those_of_each(qty):
    for day, chance in zip(SCREWS.days, SCREWS.chances_reached(qty), strict=True):
        assert chance == pytest.approx(SCREWS.chance_reached(qty, day))


def test_chance_of_having_reached_a_quantity_never_falls_again():
    crossed = UseAhead((7, 14), (9, 9), ((5, 8, 11, 20), (4, 6, 9, 12)), CHANCES)
    assert list(crossed.chances_reached(9)) == sorted(crossed.chances_reached(9))


def test_item_that_may_not_be_used_at_all_is_hardly_used():
    rare = UseAhead((7,), (0.1,), ((0, 0, 0, 0),), CHANCES)
    assert rare.chance_reached(1, 7) == 0
    assert rare.quantile(7, 0.95) == 0


def test_rows_that_do_not_go_together_are_refused():
    with pytest.raises(OutOfRange, match="days must be told for each row"):
        UseAhead((7, 14), (1,), ((1,),), (0.5,))
    with pytest.raises(OutOfRange, match="chance must lie between 0 and 1"):
        SCREWS.quantile(7, 95)
