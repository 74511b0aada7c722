"""Forecast errors against published values."""

import numpy as np
import pytest

from forecasting.accuracy import pinball_loss


def test_quantile_score_of_the_book_is_twice_the_pinball_loss():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., section 5.9 (read):
    # 10 % quantile 744.54, actual 741.84, score 4.86 with the book's factor 2.
    loss = pinball_loss(np.array([741.84]), np.array([744.54]), 0.1)
    assert 2 * loss[0] == pytest.approx(4.86, abs=0.001)


def test_interval_score_of_the_book_follows_from_two_pinball_losses():
    # Same section (upper end 773.22 and score 55.68 from memory): the Winkler score of an 80 %
    # interval is the sum of the pinball losses of its ends over 0.1.
    actual = np.array([741.84])
    ends = pinball_loss(actual, np.array([744.54]), 0.1) + pinball_loss(
        actual, np.array([773.22]), 0.9
    )
    assert ends[0] / 0.1 == pytest.approx(55.68, abs=0.006)
