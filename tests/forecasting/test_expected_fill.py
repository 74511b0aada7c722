"""Share of use met from the shelf, against a textbook, a closed form and a plain simulation."""

import numpy as np
import pytest

from forecasting.errors import OutOfRange
from forecasting.expected_fill import between_deliveries, fills_by_order, shelf
from forecasting.reorder_point import fill_at, fill_rate


def steady_use(mean, sd, lead, span, paths, seed=3):
    """Normal use over a lead time and over the span after it."""
    rng = np.random.default_rng(seed)
    arrived = rng.normal(mean * lead, sd * np.sqrt(lead), paths)
    return arrived[None], (arrived + rng.normal(mean * span, sd * np.sqrt(span), paths))[None]


def test_short_reviews_and_normal_use_give_the_textbook_fill_rate():
    # Chopra & Meindl, Supply Chain Management, chapter on safety inventory (from memory): weekly
    # use 2500 with deviation 500, lead time 2 weeks, reorder point 6000, order 10000: fill 0.9975.
    # The textbook looks all the time: the next order is here a moment later.
    arrived, _ = steady_use(2500, 500, lead=2, span=1, paths=100_000)
    served = arrived + 2500 * 0.01
    textbook = fill_rate(6000, mean=5000, sd=500 * 2**0.5, order_quantity=10_000)
    assert textbook == pytest.approx(0.9975, abs=5e-5)
    ours = shelf(arrived, served, point=6000, order=10_000).fill
    assert ours == pytest.approx(textbook, abs=3e-4)


def play(demand, *, point, order, cover, lead):
    """The plainest way: look at the end of every period, order, wait for it."""
    net, due, filled, stocks = point + order, [0] * lead, 0, []
    position = net
    for wanted in demand:
        net += due.pop(0)
        start = net
        filled += min(wanted, max(net, 0))
        net -= wanted
        position -= wanted
        stocks.append((max(start, 0) + max(net, 0)) / 2)
        ordered = max(order, point + cover - position) if position <= point else 0
        due.append(ordered)
        position += ordered
    return filled / sum(demand), np.mean(stocks)


def lumps(rng, shape):
    return rng.poisson(0.5, shape) * rng.integers(1, 12, shape)


def steady(rng, shape):
    return rng.poisson(3, shape)


@pytest.mark.parametrize("use", [lumps, steady], ids=["lumps", "steady use"])
@pytest.mark.parametrize(
    ("point", "order", "cover"), [(8, 4, 4), (12, 20, 4), (20, 5, 5), (6, 60, 12)]
)
def test_rule_played_for_thousands_of_weeks_does_as_expected(use, point, order, cover):
    rng = np.random.default_rng(5)
    weeks = use(rng, 30_000).tolist()
    filled, stock = play(weeks, point=point, order=order, cover=cover, lead=3)
    # Ordered at the end of a week: two weeks pass before it is here, three before the next one is.
    draws = use(rng, (20_000, 3)).astype(float)
    before, until = draws[:, :2].sum(axis=1), draws.sum(axis=1)
    expected = shelf(before[None], until[None], point=point, order=order, cover=cover)
    assert expected.fill == pytest.approx(filled, abs=0.015)
    assert expected.mean_stock == pytest.approx(stock, rel=0.05)


def test_nothing_short_is_a_full_shelf_and_stock_is_half_an_order_above_what_stays():
    arrived, served = np.full((1, 50), 10.0), np.full((1, 50), 14.0)
    kept = shelf(arrived, served, point=20, order=8)
    assert kept.fill == 1.0
    assert kept.mean_stock == pytest.approx(24 - 12, abs=0.5)


def test_item_without_use_is_always_met():
    nothing = np.zeros((1, 50))
    assert shelf(nothing, nothing, point=0, order=1).fill == 1.0


def test_deliveries_are_looked_at_after_several_orders_within_the_horizon():
    lead = np.array([7.0, 14.0])
    arrived, served = between_deliveries(
        lambda day: day * 2, lead, review_days=7, horizon_days=7 * 12
    )
    assert arrived.tolist() == [[14, 28]] * 3
    assert served.tolist() == [[28, 42]] * 3


def test_lead_time_beyond_the_horizon_is_looked_at_once():
    arrived, _ = between_deliveries(
        lambda day: day, np.array([400.0]), review_days=7, horizon_days=407
    )
    assert arrived.tolist() == [[400]]


def test_larger_orders_never_fill_less():
    arrived, served = steady_use(10, 8, lead=3, span=1, paths=4000)
    (curve,) = fills_by_order([(arrived, served)], [35], [40])
    fills = [fill for _, fill in curve]
    assert fills == sorted(fills)
    assert [order for order, _ in curve] == [10, 20, 40, 60, 80, 160, 320, 640]


@pytest.mark.parametrize("order", [10, 33, 55, 150, 640, 2000])
def test_fill_between_the_points_of_a_curve_is_close_to_its_own(order):
    arrived, served = steady_use(10, 8, lead=3, span=1, paths=4000)
    (curve,) = fills_by_order([(arrived, served)], [35], [40])
    own = shelf(arrived, served, point=35, order=order, cover=40).fill
    assert fill_at(curve, order) == pytest.approx(own, abs=0.015)


def test_fill_of_rare_use_is_that_of_a_shop_played_for_centuries():
    # Looked at daily, wanted every hundred days on average, 1 to 30 at a time; delivered at once.
    rng = np.random.default_rng(5)
    wanted = np.where(rng.random(400_000) < 0.01, rng.integers(1, 31, 400_000), 0)
    stock, met = 20.0, 0.0
    for use in wanted:
        met += min(use, max(stock, 0))
        stock -= use
        if stock <= 0:
            stock = max(stock + 10, 10)
    told = shelf(np.zeros((1, 400_000)), wanted[None], point=0, order=10, cover=10).fill
    assert told == pytest.approx(met / wanted.sum(), abs=0.015)


def test_without_a_curve_nothing_is_told():
    assert fill_at([], 10) is None
    assert fill_at([[10.0, 0.9]], 0) is None
    assert fills_by_order([(np.zeros((1, 1)), np.zeros((1, 1)))], [0], [0]) == [[]]


def test_order_of_nothing_is_refused():
    with pytest.raises(OutOfRange, match="order must be above 0"):
        shelf(np.zeros((1, 1)), np.zeros((1, 1)), point=0, order=0)
