import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecasting.errors import BadInput, OutOfRange
from forecasting.weibull import Weibull, fit, fit_many, hazard_to_come

Lives = tuple[np.ndarray, np.ndarray]

shapes = st.floats(0.5, 8)
scales = st.floats(1, 1000)
uses = st.floats(0, 500)


def shop_lives(seed: int, n: int = 40) -> Lives:
    """Wearing cutters of which about a third are taken out while still good."""
    rng = np.random.default_rng(seed)
    life, taken_out = 100 * rng.weibull(2.2, n), rng.uniform(20, 300, n)
    return np.minimum(life, taken_out), life <= taken_out


@pytest.mark.parametrize("seed", range(5))
def test_fit_agrees_with_an_independent_library(seed: int) -> None:
    from lifelines import WeibullFitter

    life, failed = shop_lives(seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own, of no concern here
        theirs = WeibullFitter().fit(life, failed)
    ours = fit(life, failed)
    assert ours.weibull.shape == pytest.approx(theirs.rho_, rel=1e-5)
    assert ours.weibull.scale == pytest.approx(theirs.lambda_, rel=1e-5)
    assert ours.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-7)


def test_many_histories_at_once_equal_each_fitted_alone() -> None:
    histories = {f"item {seed}": shop_lives(seed, n=5 + seed) for seed in range(30)}
    for name, together in fit_many(histories).items():
        alone = fit(*histories[name])
        assert together is not None
        assert together.weibull.shape == pytest.approx(alone.weibull.shape, rel=1e-9)
        assert together.weibull.scale == pytest.approx(alone.weibull.scale, rel=1e-9)


def test_history_without_failures_has_no_fit_and_spoils_no_other() -> None:
    fits = fit_many({"idle": ([50, 60], [False, False]), "used": shop_lives(1), "new": ([], [])})
    assert fits["idle"] is None
    assert fits["new"] is None
    assert fits["used"] == fit(*shop_lives(1))


def test_no_histories_give_no_fits() -> None:
    assert fit_many({}) == {}


def test_unusable_life_is_reported_with_its_history() -> None:
    with pytest.raises(BadInput, match="drill 4.8: life must be a number of 0 or more, but got -3"):
        fit_many({"drill 4.8": ([10, -3], [True, True])})


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(1e-3, 1e3))
def test_lives_in_another_unit_change_the_scale_only(seed: int, factor: float) -> None:
    life, failed = shop_lives(seed, n=12)
    here, there = fit(life, failed).weibull, fit(life * factor, failed).weibull
    assert there.shape == pytest.approx(here.shape, rel=1e-6)
    assert there.scale == pytest.approx(here.scale * factor, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_fitted_shape_and_scale_are_the_top_of_the_likelihood(seed: int) -> None:
    life, failed = shop_lives(seed, n=12)
    found = fit(life, failed)

    def log_likelihood(shape: float, scale: float) -> float:
        hazard = (life / scale) ** shape
        density = np.log(shape / scale) + (shape - 1) * np.log(life / scale)
        return float(density[failed].sum() - hazard.sum())

    best = found.weibull
    assert found.log_likelihood == pytest.approx(log_likelihood(best.shape, best.scale))
    for shape_factor, scale_factor in ((1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99)):
        beside = log_likelihood(best.shape * shape_factor, best.scale * scale_factor)
        assert beside < found.log_likelihood


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(1, 500))
def test_one_more_cutter_outliving_all_others_raises_the_fitted_survival(
    seed: int, still_good: float
) -> None:
    life, failed = shop_lives(seed, n=12)
    without = fit(life, failed)
    longer = fit(np.append(life, life.max() + still_good), np.append(failed, False))
    assert longer.weibull.survival(life.max()) > without.weibull.survival(life.max())


@pytest.mark.parametrize(
    ("life", "failed"),
    [([1, 1.0000001], [1, 1]), ([1, 1e6], [1, 0]), ([1e-9, 1, 1e9], [1, 1, 1])],
    ids=["nearly equal", "one failure, one far beyond", "eighteen decades"],
)
def test_extreme_lives_still_reach_the_top_of_the_likelihood(
    life: list[float], failed: list[int]
) -> None:
    weibull = fit(life, failed).weibull
    logs = np.log(life)
    power = np.exp(weibull.shape * (logs - logs.max()))
    of_failures = logs[np.array(failed, bool)].mean()
    assert (power @ logs) / power.sum() - 1 / weibull.shape == pytest.approx(of_failures, abs=1e-6)


def test_cutter_just_fitted_tells_nothing_and_is_left_out() -> None:
    life, failed = shop_lives(3)
    assert fit(np.append(life, 0), np.append(failed, False)) == fit(life, failed)


@pytest.mark.parametrize(
    ("life", "failed", "match"),
    [
        ([10, 20], [False, False], "at least one failure, but got none in 2 lives"),
        ([], [], "at least one failure, but got none in 0 lives"),
        ([10, 10, 8], [True, True, False], "every failure lies at the longest life, 10"),
        ([10, float("nan")], [True, True], "life must be a number of 0 or more, but got nan"),
        ([10, float("inf")], [True, False], "life must be a number of 0 or more, but got inf"),
        ([0, 5], [True, True], "a failure at life 0"),
        ([1, 2, 3], [True], "one length, but got 3 and 1"),
    ],
)
def test_lives_that_cannot_be_fitted_are_refused(
    life: list[float], failed: list[bool], match: str
) -> None:
    with pytest.raises(BadInput, match=match):
        fit(life, failed)


@pytest.mark.parametrize(("shape", "scale"), [(0, 1), (-1, 1), (1, 0), (float("nan"), 1)])
def test_impossible_distribution_is_refused(shape: float, scale: float) -> None:
    with pytest.raises(OutOfRange, match="must be a number above 0"):
        Weibull(shape, scale)


@given(shapes, scales, uses, uses)
def test_chance_of_a_job_is_the_ratio_of_survivals(
    shape: float, scale: float, used: float, job: float
) -> None:
    weibull = Weibull(shape, scale)
    chance = weibull.chance_of_surviving(used, job)
    assert 0 <= chance <= 1
    survived = weibull.survival(used)
    assert chance * survived == pytest.approx(weibull.survival(used + job), abs=1e-12)


@given(shapes, scales, st.floats(0.001, 0.999))
def test_life_failed_by_a_share_leaves_the_rest(shape: float, scale: float, share: float) -> None:
    weibull = Weibull(shape, scale)
    assert weibull.survival(weibull.life_failed_by(share)) == pytest.approx(1 - share)


@given(scales, st.floats(0, 5))
def test_cutter_breaking_by_chance_is_as_good_as_new(scale: float, lives_used: float) -> None:
    assert Weibull(1, scale).mean_residual(lives_used * scale) == pytest.approx(scale)


@pytest.mark.parametrize("used", [0, 60, 200, 2000, 1e6])
def test_mean_residual_life_of_a_wearing_cutter_shrinks_with_use(used: float) -> None:
    weibull = Weibull(2.2, 100)
    left = weibull.mean_residual(used)
    assert 0 < weibull.mean_residual(used + 10) < left <= weibull.mean + 1e-9


def test_mean_residual_of_a_new_cutter_is_its_mean() -> None:
    assert Weibull(2.2, 100).mean_residual(0) == pytest.approx(Weibull(2.2, 100).mean)


def test_importing_the_fit_loads_neither_scipy_nor_pandas() -> None:
    import subprocess
    import sys

    seen = "import sys, forecasting.tool_life; print({'scipy', 'pandas'} & set(sys.modules))"
    out = subprocess.run([sys.executable, "-c", seen], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "set()"


@given(
    shape=st.floats(0.3, 8), used=st.just(0.0) | st.floats(0.001, 500), job=st.floats(0.001, 500)
)
def test_hazard_to_come_is_the_difference_of_two_hazards(shape, used, job):
    model = Weibull(shape, 100.0)
    difference = model.cumulative_hazard(used + job) - model.cumulative_hazard(used)
    found = float(hazard_to_come(shape, 100.0, used, job))
    assert found == pytest.approx(
        difference, rel=1e-6, abs=1e-9 * (1 + model.cumulative_hazard(used))
    )
