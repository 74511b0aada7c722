import numpy as np
import pytest

from forecasting.classify import demand_classes, demand_pattern


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


def test_periods_not_known_are_passed_over():
    assert demand_pattern(np.array([np.nan, 5, 6, np.nan, 5, 4])).name == "smooth"


def test_many_series_get_the_class_each_gets_alone():
    rng = np.random.default_rng(5)
    qty = rng.poisson(rng.choice([0.1, 0.7, 4], (200, 1)), (200, 24)) * rng.choice(
        [1.0, 9.0], (200, 24)
    )
    qty[rng.random(qty.shape) < 0.1] = np.nan
    alone = [demand_pattern(series).name for series in qty]
    assert demand_classes(qty).tolist() == alone
    assert len(set(alone)) == 5
