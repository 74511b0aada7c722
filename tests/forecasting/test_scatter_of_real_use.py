"""A planned batch is certain, what it really takes of a material is not."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from scipy.stats import lognorm

from forecasting.learned_use import learned_use
from forecasting.plan import forecast_shop

TODAY = date(2026, 3, 2)


def use_of_a_planned_batch(scatter):
    """Of twelve knives planned in three days, two scales each: the row of the first week."""
    plan = pd.DataFrame({"product": ["neck"], "day": [TODAY + timedelta(days=3)], "qty": [12]})
    usage = pd.DataFrame({"product": ["neck"], "item": ["scale"], "per_knife": [2.0]})
    items = pd.DataFrame(
        {
            "item": ["scale"],
            "supplier": [""],
            "lead_days": [5.0],
            "review_days": [0.0],
            "service_level": [0.95],
        }
    )
    found = forecast_shop(
        pd.DataFrame(columns=["product", "day", "qty"]),
        plan=plan,
        usage=usage.assign(per_batch=0.0, **({} if scatter is None else {"scatter": scatter})),
        direct=pd.DataFrame(columns=["item", "day", "qty"]),
        items=items,
        receipts=pd.DataFrame(columns=["supplier", "item", "quoted_days", "actual_days"]),
        as_of=TODAY,
        horizon_weeks=1,
        paths=20_000,
    )
    return found.item_weeks.iloc[0]


@pytest.mark.parametrize("scatter", [None, 0.0])
def test_without_a_record_of_real_use_the_bill_stands(scatter):
    week = use_of_a_planned_batch(scatter)
    assert (week["q05"], week["q50"], week["q95"]) == (24, 24, 24)


def test_range_of_a_planned_batch_is_as_wide_as_its_bill_was_wrong_before():
    week = use_of_a_planned_batch(0.1)
    variance = np.log(1.01)
    real = lognorm(np.sqrt(variance), scale=24 * np.exp(-variance / 2))
    told = [week["q05"], week["q50"], week["q80"]]
    assert told == pytest.approx(real.ppf([0.05, 0.5, 0.8]), rel=0.01)


def test_next_batch_lies_around_the_learned_factor_as_its_prediction_error_says():
    # Textbook: a new value around the mean of n lies within s * sqrt(1 + 1/n), here over the mean.
    batches = [(10.0, 9.0), (10.0, 11.0), (10.0, 10.0), (10.0, 12.0)]
    taken = np.array([real for _, real in batches])
    error = taken.std(ddof=1) * np.sqrt(1 + 1 / 4) / 10
    assert learned_use(batches, batches).scatter == pytest.approx(error / (taken.mean() / 10))
