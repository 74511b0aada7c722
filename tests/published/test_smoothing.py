"""Exponential smoothing, as the forecast uses it, against a published exercise."""

import numpy as np
import pytest
from statsforecast.models import SimpleExponentialSmoothing


def test_time_series_exercise_gives_the_published_forecasts():
    # wongsteve.com, Exponential_Smoothing.htm, "Time Series Forecasting Exercise" (read): smoothing
    # 0.3, the first forecast is the first actual; the page rounds, the last one is 65.43 unrounded.
    sales = np.array([99, 88, 50, 58, 62, 60, 55, 62, 71, 65], dtype=float)
    published = [99, 95.7, 82, 74.8, 71, 67.7, 63.9, 63.3, 65.6, 65.42]
    ours = [
        SimpleExponentialSmoothing(0.3).forecast(y=sales[:seen], h=1)["mean"][0]
        for seen in range(1, len(sales) + 1)
    ]
    assert ours == pytest.approx(published, abs=0.051)
