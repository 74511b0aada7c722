"""The test of a range against tables and an independent library."""

import pytest
from scipy.stats import binomtest

from forecasting.coverage import FAILS, HOLDS, TOO_FEW, Coverage, chance_of_misses


@pytest.mark.parametrize(
    ("judged", "missed", "chance"),
    # Cumulative binomial table, p = 0.10, as in any textbook of statistics (from memory):
    # 1 - 0.9984 for 5 or more of 10, 1 - 0.9568 for 5 or more of 20, 1 - 0.6513... of 10.
    [(10, 5, 0.0016), (20, 5, 0.0432), (10, 1, 0.6513)],
)
def test_chance_is_that_of_the_tables(judged, missed, chance):
    assert chance_of_misses(missed, judged, 0.1) == pytest.approx(chance, abs=0.00005)


@pytest.mark.parametrize("judged", [1, 6, 13, 60])
def test_chance_is_the_one_sided_binomial_test_of_scipy(judged):
    for missed in range(judged + 1):
        theirs = binomtest(missed, judged, 0.1, alternative="greater").pvalue
        assert chance_of_misses(missed, judged, 0.1) == pytest.approx(theirs)


@pytest.mark.parametrize(
    ("judged", "missed", "verdict"),
    [(5, 5, TOO_FEW), (0, 0, TOO_FEW), (6, 0, HOLDS), (6, 3, HOLDS), (6, 4, FAILS), (13, 5, FAILS)],
)
def test_verdict_waits_for_six_and_then_takes_chance_into_account(judged, missed, verdict):
    assert Coverage(judged, missed).verdict == verdict


def test_right_range_is_seldom_called_too_narrow():
    for judged in range(6, 60):
        called = [n for n in range(judged + 1) if Coverage(judged, n).verdict == FAILS]
        assert chance_of_misses(min(called), judged, 0.1) < 0.01
