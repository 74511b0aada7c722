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
    assert median(bar) == pytest.approx(20, rel=0.03)
    low, high = bar.days(np.array([0.05, 0.95]))
    assert 12 < low < 17
    assert 24 < high < 34


def test_deliveries_that_come_late_move_the_lead_time_towards_what_was_seen():
    one = learn_lead_times(ITEMS, deliveries(30))["bar"]
    many = learn_lead_times(ITEMS, deliveries(*[30] * 20))["bar"]
    assert 20 < median(one) < median(many) < 30
    assert median(many) == pytest.approx(30, rel=0.06)
    assert many.seen == 20


def test_supplier_late_with_one_item_is_expected_late_with_the_other():
    lead_times = learn_lead_times(ITEMS, deliveries(30, 31, 29, 30))
    assert 10 < median(lead_times["screw"]) < 15


def test_other_suppliers_move_a_new_supplier_only_a_little():
    late_elsewhere = deliveries(*[40] * 10, item="epoxy", supplier="chemist")
    bar = learn_lead_times(ITEMS, late_elsewhere)["bar"]
    assert 20 < median(bar) < 40


def test_one_very_late_delivery_widens_the_late_side():
    steady = learn_lead_times(ITEMS, deliveries(*[20] * 8))["bar"]
    jolted = learn_lead_times(ITEMS, deliveries(*[20] * 7, 60))["bar"]
    assert float(jolted.days(0.95)) > 1.3 * float(steady.days(0.95))


def test_one_lost_parcel_does_not_make_the_usual_delivery_slower():
    steady = learn_lead_times(ITEMS, deliveries(*[20] * 8))["bar"]
    jolted = learn_lead_times(ITEMS, deliveries(*[20] * 7, 60))["bar"]
    assert median(jolted) < 1.05 * median(steady)


def simulated_deliveries(rng, slowness, count):
    """Usual spread 12 %, one in eight late for itself by a third to more than double."""
    late = np.where(rng.uniform(size=count) < 0.12, rng.uniform(0.3, 0.9, count), 0.0)
    return 20 * np.exp(rng.normal(slowness, 0.12, count) + late)


@pytest.mark.parametrize("seen", [1, 8, 30])
def test_nineteen_in_twenty_deliveries_keep_the_late_end_they_were_given(seen):
    rng, kept = np.random.default_rng(8), []
    for _ in range(30):
        slowness = rng.normal(0.08, 0.15, 5)
        record = pd.concat(
            deliveries(*simulated_deliveries(rng, slow, seen), item=number, supplier=number)
            for number, slow in enumerate(slowness)
        )
        items = pd.DataFrame({"item": range(5), "supplier": range(5), "lead_days": 20.0})
        lead_times = learn_lead_times(items, record.reset_index(drop=True))
        for number, slow in enumerate(slowness):
            coming = simulated_deliveries(rng, slow, 40)
            kept.append((coming <= lead_times[number].days(0.95)).mean())
    assert 0.90 < np.mean(kept) < 0.97


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
