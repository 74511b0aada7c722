from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import OutOfRange
from forecasting.expected_fill import fill_of_levels
from forecasting.ordering_rule import Levels, play_many
from forecasting.plan import forecast_shop

TODAY = date(2026, 11, 25)
CHANCES = (0.5, 0.8, 0.95, 0.99)
BUILDS = pd.DataFrame(
    {"product": "hunter", "day": [TODAY - timedelta(days=d) for d in range(7, 700, 20)], "qty": 12}
)
ITEMS = pd.DataFrame(
    [("bar", "mill", 21, 7, 0.95), ("wax", "shop", 10, 7, 0.95)],
    columns=["item", "supplier", "lead_days", "review_days", "service_level"],
)
USAGE = pd.DataFrame(
    [("hunter", "bar", 260.0, 0.0)], columns=["product", "item", "per_knife", "per_batch"]
)
NOTHING = pd.DataFrame(columns=["item", "day", "qty"])
RECEIPTS = pd.DataFrame(columns=["supplier", "item", "quoted_days", "actual_days"])


def shop(chances=CHANCES):
    return forecast_shop(
        *(BUILDS, BUILDS.iloc[:0], USAGE, NOTHING, ITEMS, RECEIPTS),
        chances=chances,
        as_of=TODAY,
        paths=400,
    )


@pytest.fixture(scope="module")
def forecast():
    return shop()


def test_higher_chance_asks_for_more_and_serves_more(forecast):
    bar = forecast.ladder[forecast.ladder["item"] == "bar"]
    assert bar["chance"].tolist() == list(CHANCES)
    for column in ("reorder_point", "order_up_to", "expected_fill"):
        assert np.diff(bar[column]).min() >= 0, column
    assert bar["expected_fill"].iloc[-1] > 0.99


def test_step_at_the_items_own_service_level_is_its_reorder_point(forecast):
    bar = forecast.ladder.set_index(["item", "chance"]).loc[("bar", 0.95)]
    row = forecast.items.set_index("item").loc["bar"]
    assert bar["reorder_point"] == pytest.approx(row["reorder_point"])
    assert bar["order_up_to"] == pytest.approx(row["order_up_to"])


def test_item_never_used_needs_nothing_and_serves_all(forecast):
    wax = forecast.ladder[forecast.ladder["item"] == "wax"]
    assert (wax["reorder_point"] == 0).all()
    assert (wax["expected_fill"] == 1).all()


def test_without_chances_the_ladder_is_empty():
    assert shop(chances=()).ladder.empty


def test_percent_written_for_a_share_is_refused():
    with pytest.raises(OutOfRange, match="chance must lie between 0 and 1 .*but got 95"):
        shop(chances=[95])


LEAD, LOOKS, ITEMS_PLAYED, PERIODS = 2, 20_000, 300, 300


def lumps(rng, shape):
    """A batch at every fifth look, large and uneven."""
    return rng.poisson(20, shape) * (rng.random(shape) < 0.2) * 1.0


def steady(rng, shape):
    return rng.poisson(4, shape) * 1.0


@pytest.mark.parametrize("use", [lumps, steady], ids=["lumps", "steady use"])
@pytest.mark.parametrize("gap", [1, 12, 40], ids=["small orders", "middling", "large orders"])
@pytest.mark.parametrize("point", [6, 20, 35])
def test_expected_fill_is_what_long_playing_comes_to(use, gap, point):
    rng = np.random.default_rng(8)
    looks = use(rng, (LOOKS, LEAD + 1))
    arrived, served = looks[:, :LEAD].sum(axis=1), looks.sum(axis=1)
    expected = fill_of_levels(arrived, served, np.array([point + gap]), gap)
    demand = use(rng, (ITEMS_PLAYED, PERIODS))
    rule = Levels(np.array([point]), np.array([point + gap]))
    played = play_many(demand, [rule] * PERIODS, start=point + gap, lead=LEAD, not_counted=40)
    assert expected.item() == pytest.approx(played.fill_rate.mean(), abs=0.02)


def test_higher_level_never_serves_less():
    rng = np.random.default_rng(8)
    looks = lumps(rng, (500, LEAD + 1))
    fills = fill_of_levels(looks[:, :LEAD].sum(axis=1), looks.sum(axis=1), np.arange(0, 200, 7), 9)
    assert (np.diff(fills) >= 0).all()
    assert fills[-1] == 1
