import numpy as np
import pytest

from forecasting.count_demand import CountBeliefs
from forecasting.count_sums import expected_short, sum_tables


def beliefs(*means):
    level = np.array(means, dtype=float)[:, None]
    return CountBeliefs(np.ones_like(level), level, np.array([2.0]))


def test_every_series_stands_in_one_table():
    tables = list(sum_tables(beliefs(0.0001, 3, 80, 900, 40_000), [1, 2], 0.999))
    assert sorted(np.concatenate([table.rows for table in tables])) == [0, 1, 2, 3, 4]
    assert len({table.step for table in tables}) > 1


def test_table_reaches_the_chance_asked_for():
    for table in sum_tables(beliefs(0.0001, 3, 80, 900, 40_000), [1, 2], 0.999):
        assert (table.within[1][:, -1] >= 0.999).all()


def test_chances_rise_with_the_value_and_fall_with_the_periods():
    for table in sum_tables(beliefs(0.2, 3, 80), [1, 2], 0.999):
        one, two = table.within
        assert (np.diff(one, axis=1) >= 0).all()
        assert (two <= one).all()


def test_all_falls_short_of_an_empty_shelf():
    (table,) = sum_tables(beliefs(3), [2], 0.9999999)
    short = expected_short(table.within[0], np.array([[6.0]]), table.step)[0]
    assert short[0] == 6
    assert short[-1] == pytest.approx(0, abs=1e-5)


def test_no_series_makes_no_table():
    nothing = CountBeliefs(np.zeros((0, 1)), np.zeros((0, 1)), np.array([2.0]))
    assert list(sum_tables(nothing, [1], 0.9)) == []
