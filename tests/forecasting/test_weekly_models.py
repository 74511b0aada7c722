"""The levels of the weekly models, against statsforecast, which computes them in its own way."""

import numpy as np
import pytest
from statsforecast import models

from forecasting.point_forecast import CANDIDATES
from forecasting.weekly_models import levels_per_week

RNG = np.random.default_rng(4)
SERIES = {
    "rare": RNG.poisson(0.3, 60) * 4.0,
    "steady": RNG.normal(20, 2, 60).round(),
    "demand in the last week alone": np.eye(30)[-1] * 7,
    "demand in the first week alone": np.eye(30)[0] * 7,
    "never any": np.zeros(12),
    "one week": np.array([3.0]),
}
LIBRARY = {
    "smoothed level": models.SimpleExponentialSmoothing(0.1),
    "quickly smoothed level": models.SimpleExponentialSmoothing(0.3),
    "interval and size (SBA)": models.CrostonSBA(),
    "chance and size (TSB)": models.TSB(0.1, 0.1),
    "average of all periods": models.HistoricAverage(),
}


def test_every_model_compared_is_in_the_table_below():
    assert set(LIBRARY) == {name for names in CANDIDATES.values() for name in names}


@pytest.mark.parametrize("weeks", SERIES.values(), ids=SERIES)
@pytest.mark.parametrize("model", LIBRARY)
def test_level_is_that_of_the_library(model, weeks):
    expected = LIBRARY[model].forecast(y=weeks, h=1)["mean"][0]
    assert levels_per_week(weeks[None], [model])[0, 0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("model", LIBRARY)
def test_weeks_not_known_are_passed_over(model):
    weeks = SERIES["rare"]
    holes = np.insert(weeks, [0, 20, 20, 60], np.nan)
    assert levels_per_week(holes[None], [model]) == levels_per_week(weeks[None], [model])


def test_series_of_which_nothing_is_known_has_no_level():
    nothing = np.full((1, 12), np.nan)
    assert (levels_per_week(nothing, list(LIBRARY)) == 0).all()


def test_each_series_and_model_has_its_own_place():
    qty = np.array([SERIES["rare"], SERIES["steady"]])
    together = levels_per_week(qty, list(LIBRARY))
    for row in range(len(qty)):
        for column, model in enumerate(LIBRARY):
            assert together[row, column] == levels_per_week(qty[row, None], [model])[0, 0]
