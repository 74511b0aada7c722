import numpy as np
import pytest

from forecasting.batch_paths import simulate_batches
from forecasting.build_rhythm import GapBeliefs, Rhythm
from forecasting.paths import Paths, no_events

PATHS = 4000


def rhythm(gap=30.0, variation=0.1, age=10.0, alive=1.0, spread=1e-6, sizes=((12.0, 1.0),)):
    beliefs = GapBeliefs(np.ones(1), np.array([gap]), np.array([spread]), np.array([variation]))
    return Rhythm(beliefs, age, np.array(sizes), np.ones(1), alive)


def simulate(rhythm, planned=None, horizon_days=300):
    return simulate_batches(
        rhythm,
        planned or no_events(PATHS),
        horizon_days=horizon_days,
        rng=np.random.default_rng(7),
    )


def plan(*rows):
    day, qty = np.tile(np.array(rows, dtype=float), (PATHS, 1, 1)).transpose(2, 0, 1)
    return Paths(day, qty, np.ones_like(qty))


def test_batches_come_at_the_pace_of_the_rhythm():
    knives, batches = simulate(rhythm(), horizon_days=3000).until(3000)
    assert batches.mean() == pytest.approx(100, rel=0.02)
    assert knives.mean() == pytest.approx(1200, rel=0.02)


def test_memoryless_batches_do_not_care_how_long_the_silence_was():
    # Squared variation 1 is the exponential distribution: no memory, Poisson counts.
    for age in (0.0, 25.0, 80.0):
        _, batches = simulate(rhythm(variation=1.0, age=age)).until(300)
        assert batches.mean() == pytest.approx(10, rel=0.05)
        assert batches.var() == pytest.approx(10, rel=0.15)


def test_regular_batches_are_due_when_the_silence_nears_the_gap():
    soon = simulate(rhythm(variation=0.01, age=28.0)).until(8)[1].mean()
    later = simulate(rhythm(variation=0.01, age=2.0)).until(8)[1].mean()
    assert soon > 0.9
    assert later < 0.01


def test_no_batch_is_expected_on_the_day_itself():
    assert simulate(rhythm(age=500.0)).until(0)[1].max() == 0


def test_dropped_products_have_empty_futures():
    _, batches = simulate(rhythm(alive=0.25), horizon_days=600).until(600)
    assert (batches == 0).mean() == pytest.approx(0.75, abs=0.03)


def test_plan_stands_until_its_last_batch_then_the_rhythm_goes_on():
    paths = simulate(rhythm(), plan((10, 8), (50, 9)))
    assert set(paths.until(50)[0]) == {17.0}
    assert paths.until(300)[1].mean() > 8


def test_rhythm_goes_on_from_today_where_the_only_planned_batch_is_given_up():
    paths = simulate(rhythm(age=28.0), plan((np.inf, 8)))
    assert paths.until(300)[0].mean() == pytest.approx(10 * 12, rel=0.1)


def test_rhythm_waits_for_a_planned_batch_that_comes_late():
    planned = plan((10, 8))
    planned.day[: PATHS // 2] = 90
    started = simulate(rhythm(variation=0.01), planned, horizon_days=80).until(80)[1]
    assert set(started[: PATHS // 2]) == {0.0}
    assert started[PATHS // 2 :].min() >= 2


def test_plan_of_a_product_without_rhythm_is_all_there_is():
    knives, batches = simulate(None, plan((10, 8), (50, 9))).until(300)
    assert set(knives) == {17.0}
    assert set(batches) == {2.0}


def test_unknown_mean_gap_widens_the_futures():
    known = simulate(rhythm(spread=1e-6)).until(300)[1]
    unknown = simulate(rhythm(spread=0.1)).until(300)[1]
    assert unknown.std() > 1.3 * known.std()


def test_hardly_known_gap_does_not_promise_a_batch_a_day():
    starts = simulate(rhythm(gap=56.0, variation=1.0, spread=0.67, age=3.0)).until(300)[1]
    assert 300 / 56 < starts.mean() < 1.6 * 300 / 56
    assert np.quantile(starts, 0.99) < 40


def test_silence_speaks_for_a_longer_gap():
    fresh = simulate(rhythm(spread=0.2, age=1.0), horizon_days=900).until(900)[1].mean()
    silent = simulate(rhythm(spread=0.2, age=70.0), horizon_days=900).until(900)[1].mean()
    assert silent < 0.8 * fresh


def test_sizes_are_those_seen_when_the_shop_has_no_other():
    paths = simulate(rhythm(sizes=((10.0, 1.0), (20.0, 1.0))))
    happening = np.isfinite(paths.day)
    assert set(np.unique(paths.qty[happening])) <= {10.0, 15.0, 20.0}
