from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import gammaincinv

from forecasting.errors import BadInput, OutOfRange
from forecasting.weibull import Weibull, fit
from forecasting.weibull_range import Expectation, _gamma_quantiles, weibull_range

WORN = np.array([60.0, 80, 90, 110, 130, 140])


def test_shape_interval_agrees_with_slow_integration() -> None:
    # Density of the shape worked out again from its formula, Lawless (1978), by adaptive quadrature.
    logs = np.log(WORN / WORN.max())

    def density(shape: float) -> float:
        n = WORN.size
        return shape ** (n - 2) * np.exp(shape * logs.sum()) / np.exp(shape * logs).sum() ** n

    total = quad(density, 0, 40)[0]
    low, high = weibull_range(WORN, [True] * 6).shape_interval(0.9)
    assert quad(density, 0, low)[0] / total == pytest.approx(0.05, abs=0.001)
    assert quad(density, 0, high)[0] / total == pytest.approx(0.95, abs=0.001)


@pytest.mark.parametrize("order", [0.3, 1.0, 1.85, 5.0, 50.0, 2000.0])
def test_gamma_quantiles_agree_with_an_independent_library(order: float) -> None:
    shares = np.array([0.04, 0.3, 0.5, 0.7, 0.96])
    assert _gamma_quantiles(order, shares) == pytest.approx(gammaincinv(order, shares), rel=1e-3)


def test_many_failures_narrow_the_range_around_the_fit() -> None:
    rng = np.random.default_rng(5)
    life, failed = 100 * rng.weibull(2.2, 2000), np.ones(2000, bool)
    fitted, around = fit(life, failed).weibull, weibull_range(life, failed)
    assert around.middle.shape == pytest.approx(fitted.shape, rel=0.002)
    assert around.middle.scale == pytest.approx(fitted.scale, rel=0.002)
    low, high = around.shape_interval(0.9)
    # Large-sample standard error of ln(shape), complete lives: 0.7797 / sqrt(n).
    assert log(high / low) == pytest.approx(2 * 1.645 * 0.7797 / 2000**0.5, rel=0.05)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(1e-3, 1e3))
def test_range_in_another_unit_is_the_same_range(seed: int, factor: float) -> None:
    life = 100 * np.random.default_rng(seed).weibull(2, 6)
    here, there = weibull_range(life, [True] * 6), weibull_range(life * factor, [True] * 6)
    assert there.shape == pytest.approx(here.shape, rel=1e-6)
    assert there.scale == pytest.approx(here.scale * factor, rel=1e-6)


@pytest.mark.parametrize("pairs", ["all", "few"])
def test_few_pairs_stand_for_all(pairs: str) -> None:
    around = weibull_range(WORN, [True] * 6)
    shape, scale = around.few_pairs() if pairs == "few" else (around.shape, around.scale)
    assert np.median(shape) == pytest.approx(around.shape_quantile(0.5), rel=0.05)
    assert np.median(scale) == pytest.approx(
        around.life_interval(1 - np.exp(-1), 0.01)[0], rel=0.02
    )


def test_expectation_alone_is_given_back() -> None:
    alone = weibull_range([], [], Expectation(2.2, 2.0, 120, 1.85))
    assert alone.middle.shape == pytest.approx(2.2, rel=1e-4)
    assert alone.middle.scale == pytest.approx(120, rel=1e-4)
    assert alone.shape_interval(0.9) == pytest.approx((1.1, 4.4), rel=0.01)


def test_expected_scale_of_weight_two_is_as_sure_as_two_failures_seen() -> None:
    # With the shape all but known, scale**-shape is a gamma variable whose order is the number of
    # failures, or the weight; only the middle differs, which for the expectation is the median.
    sure = 1 + 1e-4
    expected = weibull_range([], [], Expectation(2.0, sure, 120, 2.0))
    seen = weibull_range([120, 120], [True, True], Expectation(2.0, sure))
    assert expected.life_interval(0.5) == pytest.approx(
        np.array(seen.life_interval(0.5)) * 120 / seen.middle.scale, rel=1e-3
    )


def test_failures_far_from_the_expected_life_outweigh_it_in_time() -> None:
    expectation = Expectation(2.2, 2.0, 120, 1.85)
    middle = [
        weibull_range(np.linspace(25, 55, n), [True] * n, expectation).middle.scale
        for n in (1, 4, 20, 200)
    ]
    assert middle == sorted(middle, reverse=True)
    assert middle[-1] == pytest.approx(44, abs=2)


def test_failures_all_at_one_life_need_and_use_an_expected_shape() -> None:
    with pytest.raises(BadInput, match="two failures at lives that differ, but got 5 in 5"):
        weibull_range([100] * 5, [True] * 5)
    around = weibull_range([100] * 5, [True] * 5, Expectation(1.9, 2.1))
    assert around.middle.scale == pytest.approx(100, rel=0.1)


@pytest.mark.parametrize(
    ("life", "failed", "expectation", "match"),
    [
        ([10], [True], None, "at least two failures"),
        ([10, 20], [False, False], Expectation(2, 2), "no failure among 2 lives"),
        ([], [], Expectation(2, 2), "no failure among 0 lives"),
    ],
)
def test_too_little_to_go_by_is_refused(
    life: list[float], failed: list[bool], expectation: Expectation | None, match: str
) -> None:
    with pytest.raises(BadInput, match=match):
        weibull_range(life, failed, expectation)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        ((0, 2), "shape must be a number above 0"),
        ((2, 1), "shape_factor must be above 1"),
        ((2, 2, -5, 1), "scale must be a number above 0"),
        ((2, 2, 100, 0), "weight must be 0.25 or more"),
    ],
)
def test_impossible_expectation_is_refused(arguments: tuple[float, ...], match: str) -> None:
    with pytest.raises(OutOfRange, match=match):
        Expectation(*arguments)


def test_confidence_given_in_per_cent_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"between 0 and 1 \(0.9 for 90 %\), but got 90"):
        weibull_range(WORN, [True] * 6).shape_interval(90)


def simulated_shop(rng: np.random.Generator, weibull: Weibull, failures: int) -> tuple:
    """Lives until this many failures are seen; every other cutter may be taken out early."""
    life, failed = [], []
    while sum(failed) < failures:
        full = weibull.scale * rng.weibull(weibull.shape)
        taken_out = rng.uniform(0.2, 2) * weibull.scale if rng.random() < 0.5 else np.inf
        life.append(min(full, taken_out))
        failed.append(full <= taken_out)
    return np.array(life), np.array(failed)


@pytest.mark.slow
@pytest.mark.parametrize("failures", [5, 10, 30])
def test_nine_in_ten_intervals_hold_the_truth_nine_times_in_ten(failures: int) -> None:
    rng = np.random.default_rng(20)
    held = {"shape": 0, "life": 0, "chance": 0}
    shops = 1500
    for _ in range(shops):
        truth = Weibull(float(rng.choice([1.2, 2.2, 3.5])), 100)
        around = weibull_range(*simulated_shop(rng, truth, failures))
        low, high = around.shape_interval(0.9)
        held["shape"] += low <= truth.shape <= high
        low, high = around.life_interval(0.1, 0.9)
        held["life"] += low <= truth.b10 <= high
        low, high = np.quantile(around.survival_chances(40, 30), [0.05, 0.95])
        held["chance"] += low <= truth.chance_of_surviving(40, 30) <= high
    shares = {what: count / shops for what, count in held.items()}
    assert all(0.87 <= share <= 0.93 for share in shares.values()), shares
