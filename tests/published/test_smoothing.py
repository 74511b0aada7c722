"""Exponential smoothing, as the forecast uses it, against a published exercise."""

import numpy as np
import pytest
from statsforecast.models import SimpleExponentialSmoothing, SimpleExponentialSmoothingOptimized


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


# Flow of the Nile at Aswan 1871-1970, data set Nile of R (values from memory; their mean, 919.35, is
# the known one).
NILE = np.array(
    [1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180]
    + [799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833]
    + [701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845]
    + [864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676]
    + [649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923]
    + [975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740],
    dtype=float,
)


def test_level_with_its_own_smoothing_gives_the_published_forecast_of_the_nile():
    # r-statistics.co, "Exponential Smoothing Exercises in R", exercise 1.1 (read): 805.3363. There
    # the first level is fitted too (1110.73), here it is the first value: that leaves 0.3.
    assert NILE.mean() == pytest.approx(919.35)
    forecast = SimpleExponentialSmoothingOptimized().forecast(y=NILE, h=1)["mean"][0]
    assert forecast == pytest.approx(805.3363, abs=0.5)
