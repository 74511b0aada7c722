import numpy as np
import pytest

from forecasting.classify import demand_pattern


@pytest.mark.parametrize(
    ("series", "name"),
    [
        ([5, 6, 5, 4, 5, 6], "smooth"),
        ([1, 20, 2, 30, 1, 2], "erratic"),
        ([0, 0, 5, 0, 0, 5, 0, 0, 6], "intermittent"),
        ([0, 0, 1, 0, 0, 30, 0, 2], "lumpy"),
        ([0, 0, 24, 0], "too few to class"),
        ([], "too few to class"),
    ],
    ids=["smooth", "erratic", "intermittent", "lumpy", "one-demand", "empty"],
)
def test_series_gets_its_class(series, name):
    assert demand_pattern(np.array(series, dtype=float)).name == name
