import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from forecasting.demand_series import DemandSeries, demand_series
from forecasting.errors import BadInput, OutOfRange
from forecasting.table_replay import ALLOCATED, OURS, replay_table


def series(demand, unit_cost=None):
    rows, periods = np.shape(demand)
    return DemandSeries(
        [str(row) for row in range(rows)],
        [str(period) for period in range(periods)],
        np.asarray(demand, dtype=float),
        None if unit_cost is None else np.asarray(unit_cost, dtype=float),
    )


@pytest.fixture(scope="module")
def spares():
    """Sixty invented spare parts, asked for now and then, 48 months."""
    rng = np.random.default_rng(11)
    level = rng.gamma(0.8, 0.8, (60, 1))
    return rng.poisson(rng.gamma(1.0, level, (60, 48))).astype(float)


@pytest.fixture(scope="module")
def replay(spares):
    return replay_table(series(spares), lead=2, review=1)


def test_two_thirds_are_known_and_the_rest_is_played(replay):
    assert (replay.periods, replay.known, replay.played) == (48, 32, 16)


def test_our_curves_stand_first_and_every_rule_has_one(replay):
    assert [curve.rule for curve in replay.curves[:2]] == [OURS, ALLOCATED]
    assert len({curve.rule for curve in replay.curves}) == 6


def test_more_stock_serves_more(replay):
    for curve in replay.curves:
        fills, stocks = ([getattr(p, name) for p in curve.points] for name in ("fill", "stock"))
        assert stocks == sorted(stocks), curve.rule
        assert np.diff(fills).min() > -0.01, curve.rule


@pytest.mark.parametrize("own", [0, 1], ids=[OURS, ALLOCATED])
def test_fill_we_expect_is_near_the_fill_that_came(replay, own):
    points = [point for point in replay.curves[own].points if 0.8 < point.fill < 0.97]
    assert points
    for point in points:
        assert point.expected_fill == pytest.approx(point.fill, abs=0.06)


def test_share_of_all_demand_takes_less_stock_where_steady_and_lumpy_items_lie_together():
    rng = np.random.default_rng(2)
    steady = rng.poisson(rng.uniform(5, 40, (80, 1)), (80, 48))
    lumpy = rng.negative_binomial(rng.uniform(0.05, 0.4, (80, 1)), 0.2, (80, 48))
    curves = replay_table(series(np.vstack([steady, lumpy])), lead=2).curves
    alike, allocated, *normal = (curve.stock_at(0.95) for curve in curves[:5])
    assert allocated < 0.97 * alike
    assert allocated < min(normal)


def test_what_happens_later_changes_no_level_before(spares):
    surprise = spares.copy()
    surprise[:, -1] = 40
    before, after = (
        replay_table(series(demand[:, :width]), lead=0, known=46)
        for demand, width in ((spares, 47), (surprise, 47))
    )
    assert before == after


def test_series_with_an_unknown_period_among_those_played_is_left_out(spares):
    demand = spares.copy()
    demand[0, 40] = np.nan
    demand[1, :40] = np.nan
    demand[2, :9] = np.nan
    replay = replay_table(series(demand), lead=2)
    assert replay.series == 58
    assert replay.left_out == {
        "nothing known before the periods played": 1,
        "a period played is not known": 1,
    }


def test_with_unit_costs_stock_is_money_and_dear_items_weigh_more(spares, replay):
    alike = replay_table(series(spares, np.full(60, 10.0)), lead=2)
    assert alike.in_money
    for units, money in zip(replay.curves[0].points, alike.curves[0].points, strict=True):
        assert money.stock == pytest.approx(10 * units.stock)
        assert money.fill == pytest.approx(units.fill)


@pytest.mark.parametrize("scale", [250.0, 0.25])
def test_unit_of_measure_changes_little(spares, replay, scale):
    """What is kept in mm or in hundreds is played like what is counted."""
    scaled = replay_table(series(spares * scale), lead=2)
    at_90, measured = replay.curves[0].stock_at(0.9), scaled.curves[0].stock_at(0.9)
    assert measured / scale == pytest.approx(at_90, rel=0.3)


def test_reviewing_every_third_period_takes_more_stock(spares):
    seldom = replay_table(series(spares), lead=2, review=3)
    often = replay_table(series(spares), lead=2, review=1)
    assert seldom.curves[0].stock_at(0.9) > often.curves[0].stock_at(0.9)


def test_item_nobody_asks_for_is_played_too():
    replay = replay_table(series(np.zeros((2, 9))), lead=1)
    assert all(point.fill == 1 for curve in replay.curves[:2] for point in curve.points)


def test_same_table_gives_the_same_curves(spares, replay):
    assert replay_table(series(spares), lead=2, review=1) == replay


@pytest.mark.parametrize(
    ("terms", "message"),
    [
        ({"lead": -1}, "lead time must be 0 periods or more, but got -1"),
        ({"lead": 1, "review": 0}, "review must be 1 period or more"),
        ({"lead": 1, "known": 9}, "known must be 2 to 8 of 9 periods, but got 9"),
        ({"lead": 1, "known": 1}, "known must be 2 to 8"),
    ],
)
def test_impossible_terms_are_refused(terms, message):
    with pytest.raises(OutOfRange, match=message):
        replay_table(series(np.ones((1, 9))), **terms)


def test_table_of_two_periods_is_too_short():
    with pytest.raises(BadInput, match="spans 2 period"):
        replay_table(series(np.ones((1, 2))), lead=1)


def test_table_in_which_nothing_can_be_played_says_so():
    demand = np.ones((2, 9))
    demand[:, -1] = np.nan
    with pytest.raises(BadInput, match="No series can be played.*3 to 8"):
        replay_table(series(demand), lead=2)


def test_rows_of_a_file_become_a_replay():
    rows = [("screw", f"2026-{month:02d}", str(month % 3)) for month in range(1, 13)]
    table = pd.DataFrame(rows, columns=["series_id", "period", "qty"])
    assert replay_table(demand_series(table), lead=1).series == 1


AMOUNTS = st.sampled_from([0.0, 0.0, 1.0, 2.0, 0.5, 250.0, 1e6, np.nan])


@settings(max_examples=25, deadline=None)
@given(
    arrays(float, st.tuples(st.integers(1, 4), st.integers(3, 14)), elements=AMOUNTS),
    st.integers(0, 4),
    st.integers(1, 3),
)
def test_any_demand_is_played_to_finite_figures_or_refused_in_words(demand, lead, review):
    try:
        replay = replay_table(series(demand), lead=lead, review=review)
    except BadInput:
        return
    for curve in replay.curves:
        for point in curve.points:
            assert 0 <= point.fill <= 1
            assert 0 <= point.stock < 1e12
    assert all(0 <= p.expected_fill <= 1 for curve in replay.curves[:2] for p in curve.points)
