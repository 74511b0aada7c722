"""Turns of a stock and days that it lasts, against a published example."""

import pytest

from forecasting.errors import OutOfRange
from forecasting.stock_turns import stock_turns


def test_goods_for_120_000_out_of_a_stock_of_30_000_turn_it_four_times():
    # Public article "Inventory Turnover vs Days Supply: Key Metrics" (read): 4 turns, 91.25 days.
    turns = stock_turns(120_000, 30_000)
    assert (turns.a_year, turns.days) == (4, 91.25)


def test_half_a_year_of_the_same_use_is_the_same_number_of_turns():
    half = stock_turns(60_000, 30_000, days=182.5)
    assert (half.a_year, half.days) == (4, 91.25)


@pytest.mark.parametrize(
    ("used", "average", "message"),
    [(0, 1, "used must be above 0"), (1, 0, "average_stock must be above 0")],
    ids=["nothing-used", "nothing-there"],
)
def test_shelf_that_nothing_left_or_lay_on_has_no_turns(used, average, message):
    with pytest.raises(OutOfRange, match=message):
        stock_turns(used, average)
