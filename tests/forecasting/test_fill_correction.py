"""What is told of the fill is put right by the past, but not by its accidents."""

import numpy as np
import pytest

from forecasting.fill_correction import corrected_fill, error_of_fill


def test_error_is_that_of_many_shops_drawn_from_the_same_items():
    # The bootstrap of the standard library of statistics: items drawn again and again.
    rng = np.random.default_rng(4)
    asked = rng.gamma(0.5, 20, 300)
    served = asked * rng.beta(8, 2, 300)
    drawn = rng.integers(300, size=(4000, 300))
    fills = served[drawn].sum(axis=1) / asked[drawn].sum(axis=1)
    assert error_of_fill(served[None], asked)[0] == pytest.approx(fills.std(), rel=0.06)


def test_certain_miss_is_made_good_in_full():
    assert corrected_fill(*map(np.array, ([0.8], [0.8], [0.9], [0.0])))[0] == pytest.approx(0.9)


def test_miss_within_chance_moves_little():
    # By arithmetic: of a miss of 0.01 with an error of 0.03 one tenth is believed.
    told = corrected_fill(*map(np.array, ([0.8], [0.8], [0.81], [0.03])))[0]
    assert told == pytest.approx(0.801, abs=2e-4)


def test_shares_stay_shares():
    told = corrected_fill(*map(np.array, ([0.999, 0.0], [0.9, 0.5], [1.0, 0.0], [0.0, 0.0])))
    assert ((told >= 0) & (told <= 1)).all()


def test_where_nothing_was_asked_for_nothing_moves():
    assert error_of_fill(np.zeros((1, 3)), np.zeros(3)) == 0
    assert corrected_fill(*map(np.array, ([0.7], [1.0], [1.0], [0.0])))[0] == pytest.approx(0.7)
