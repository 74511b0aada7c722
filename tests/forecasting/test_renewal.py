import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson

from forecasting import renewal
from forecasting.errors import OutOfRange
from forecasting.renewal import weibull_changes
from forecasting.weibull import Weibull


@pytest.mark.parametrize("used", [0, 55], ids=["new", "used"])
def test_breakage_by_chance_is_counted_by_poisson_whatever_the_age(used: float) -> None:
    counted = weibull_changes(1.0, 100, used, job=250)
    assert counted.chance == pytest.approx(poisson(2.5).pmf(range(counted.chance.size)), abs=1e-4)


@pytest.mark.parametrize(("used", "job"), [(0, 80), (70, 80), (70, 600)])
def test_count_agrees_with_playing_it_through(used: float, job: float) -> None:
    rng = np.random.default_rng(4)
    shape, scale, runs = 2.2, 100.0, 100_000
    clock = scale * ((used / scale) ** shape + rng.exponential(size=runs)) ** (1 / shape) - used
    played = np.zeros(runs)
    while (clock <= job).any():
        played += clock <= job
        clock += scale * rng.weibull(shape, runs)
    counted = weibull_changes(shape, scale, used, job)
    assert counted.expected == pytest.approx(played.mean(), abs=0.015)
    assert counted.chance_of_none == pytest.approx((played == 0).mean(), abs=0.006)
    assert counted.at_most(0.95) == np.quantile(played, 0.95, method="inverted_cdf")


@settings(max_examples=40, deadline=None)
@given(st.floats(0.6, 6), st.floats(20, 500), st.floats(0, 400), st.floats(0, 800))
def test_chances_add_up_and_none_is_the_chance_of_surviving(
    shape: float, scale: float, used: float, job: float
) -> None:
    counted = weibull_changes(shape, scale, used, job)
    assert counted.chance.min() >= 0
    assert counted.chance.sum() == pytest.approx(1)
    survived = Weibull(shape, scale).chance_of_surviving(used, job)
    assert counted.chance_of_none == pytest.approx(survived, abs=1e-6)


def test_equally_likely_pairs_are_averaged() -> None:
    together = weibull_changes([1.5, 3.0], [80, 120], used=20, job=200).expected
    apart = [weibull_changes(*pair, used=20, job=200).expected for pair in ((1.5, 80), (3, 120))]
    assert together == pytest.approx(np.mean(apart), abs=1e-4)


@pytest.mark.parametrize("shape", [1.0, 2.0, 4.0])
def test_long_run_count_joins_the_exact_one(shape: float, monkeypatch: pytest.MonkeyPatch) -> None:
    job = 120 * (renewal.LONG_RUN_LIVES + 1)
    normal = weibull_changes(shape, 120, 100, job)
    monkeypatch.setattr(renewal, "LONG_RUN_LIVES", 100)
    exact = weibull_changes(shape, 120, 100, job)
    assert normal.expected == pytest.approx(exact.expected, abs=0.002)
    assert abs(normal.at_most(0.95) - exact.at_most(0.95)) <= 1


def test_more_confidence_never_means_fewer_changes() -> None:
    counted = weibull_changes(2.2, 100, 30, 300)
    numbers = [counted.at_most(share) for share in (0.01, 0.1, 0.5, 0.9, 0.99, 0.999999)]
    assert numbers == sorted(numbers)


@pytest.mark.parametrize(
    ("used", "job", "match"),
    [(-1, 10, "used must be"), (1, -10, "job must be"), (1, float("inf"), "job must be")],
)
def test_impossible_use_is_refused(used: float, job: float, match: str) -> None:
    with pytest.raises(OutOfRange, match=match):
        weibull_changes(2, 100, used, job)


@pytest.mark.parametrize("confidence", [0, 1, 95])
def test_confidence_outside_its_range_is_refused(confidence: float) -> None:
    with pytest.raises(OutOfRange, match="confidence must lie between 0 and 1"):
        weibull_changes(2, 100, 0, 10).at_most(confidence)
