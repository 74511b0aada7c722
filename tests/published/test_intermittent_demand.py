"""Intermittent demand: class, and the levels of the models in use, against a published example."""

import numpy as np
import pytest
from statsforecast.models import TSB, CrostonClassic, CrostonSBA

from forecasting.classify import demand_pattern

# S. Prabhakaran, "Intermittent Demand Forecasting in R: Croston and Friends", r-statistics.co
# (read): 48 months, rebuilt from the sizes and gaps printed there.
MONTHS = np.array(
    [0, 0, 0, 0, 0, 5, 0, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 5, 0, 8, 0, 0, 5, 5]
    + [0, 7, 0, 4, 0, 0, 0, 0, 0, 0, 5, 0, 7, 6, 4, 0, 0, 4, 0, 6, 5, 0, 0, 0],
    dtype=float,
)


def test_class_interval_and_spread_are_the_published_ones():
    # Cut-offs 1.32 and 0.49: Syntetos, Boylan & Croston (2005), read second hand.
    pattern = demand_pattern(MONTHS)
    assert pattern.interval == pytest.approx(3.2, abs=0.0006)
    assert pattern.spread == pytest.approx(0.054, abs=0.0006)
    assert pattern.name == "intermittent"


def test_croston_and_its_correction_give_the_published_levels():
    croston = CrostonClassic().forecast(y=MONTHS, h=1)["mean"][0]
    corrected = CrostonSBA().forecast(y=MONTHS, h=1)["mean"][0]
    assert croston == pytest.approx(1.612, abs=0.0006)
    assert corrected == pytest.approx(1.531, abs=0.0006)


def test_chance_and_size_model_forgets_its_start():
    # Printed level 1.883 with chance 0.05, size 0.1; the source starts the chance at the share of
    # months with demand (0.3125), the library at the first month. The start decays by 0.95 a month,
    # so the two differ by the gap of the starts times 0.95 ** 48 times the size.
    ours = TSB(alpha_d=0.1, alpha_p=0.05).forecast(y=MONTHS, h=1)["mean"][0]
    start_effect = (15 / 48) * 0.95**48 * 5.227
    assert ours + start_effect == pytest.approx(1.883, abs=0.003)
