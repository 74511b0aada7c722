import numpy as np
import pandas as pd
import pytest

from forecasting.lead_time import learn_lead_times

ITEMS = pd.DataFrame(
    {"item": ["bar", "screw"], "supplier": ["mill", "mill"], "lead_days": [20.0, 10.0]}
)


def deliveries(*actual, item="bar", supplier="mill", quoted=20.0):
    return pd.DataFrame(
        {
            "supplier": [supplier] * len(actual),
            "item": [item] * len(actual),
            "quoted_days": [quoted] * len(actual),
            "actual_days": actual,
        }
    ).astype({"quoted_days": float, "actual_days": float})


def median(lead_time):
    return float(lead_time.days(0.5))


def test_without_deliveries_the_quote_stands_with_some_spread():
    bar = learn_lead_times(ITEMS, deliveries())["bar"]
    assert bar.seen == 0
    assert median(bar) == pytest.approx(20)
    low, high = bar.days(np.array([0.05, 0.95]))
    assert 12 < low < 17
    assert 24 < high < 32


def test_deliveries_that_come_late_move_the_lead_time_towards_what_was_seen():
    one = learn_lead_times(ITEMS, deliveries(30))["bar"]
    many = learn_lead_times(ITEMS, deliveries(*[30] * 20))["bar"]
    assert 20 < median(one) < median(many) < 30
    assert median(many) == pytest.approx(30, rel=0.06)
    assert many.seen == 20


def test_supplier_late_with_one_item_is_expected_late_with_the_other():
    lead_times = learn_lead_times(ITEMS, deliveries(30, 31, 29, 30))
    assert 10 < median(lead_times["screw"]) < 15
    assert median(lead_times["bar"]) / 20 > median(lead_times["screw"]) / 10


def test_other_suppliers_move_a_new_supplier_only_a_little():
    late_elsewhere = deliveries(*[40] * 10, item="epoxy", supplier="chemist")
    bar = learn_lead_times(ITEMS, late_elsewhere)["bar"]
    assert 20 < median(bar) < 40


def test_one_very_late_delivery_widens_the_late_side():
    steady = learn_lead_times(ITEMS, deliveries(*[20] * 8))["bar"]
    jolted = learn_lead_times(ITEMS, deliveries(*[20] * 7, 60))["bar"]
    assert float(jolted.days(0.95)) > 1.3 * float(steady.days(0.95))


def test_delivery_on_the_day_of_the_order_is_accepted():
    assert median(learn_lead_times(ITEMS, deliveries(0, 0))["bar"]) >= 1


def test_items_without_supplier_share_their_deliveries():
    items = ITEMS.assign(supplier=None)
    lead_times = learn_lead_times(items, deliveries(30, supplier=None))
    assert lead_times["bar"].seen == 1


def test_samples_follow_the_quantiles():
    bar = learn_lead_times(ITEMS, deliveries(22, 25, 19))["bar"]
    drawn = bar.sample(4000, np.random.default_rng(1))
    assert np.quantile(drawn, 0.95) == pytest.approx(float(bar.days(0.95)), rel=0.01)
