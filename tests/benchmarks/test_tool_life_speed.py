"""Time of a fit and of a page's question, side by side with an independent library."""

import warnings
from collections.abc import Callable
from time import process_time

import numpy as np
import pytest

from forecasting.tool_life import LifeRecord, changes, life_model, survives
from forecasting.weibull import fit, fit_many

pytestmark = pytest.mark.benchmark

FITTED_BY_THE_LIBRARY = 100


def best_ms(work: Callable[[], object], repeats: int) -> float:
    """Least of `repeats` timings of the processor, in milliseconds."""
    timings = []
    for _ in range(repeats):
        start = process_time()
        work()
        timings.append(1000 * (process_time() - start))
    return min(timings)


def fifty_lives(seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    life, taken_out = 100 * rng.weibull(2.2, 50), rng.uniform(20, 300, 50)
    return np.minimum(life, taken_out), life <= taken_out


def test_fit_of_fifty_lives() -> None:
    from lifelines import WeibullFitter

    life, failed = fifty_lives(1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = best_ms(lambda: WeibullFitter().fit(life, failed), 5)
        estimate = WeibullFitter().fit(life, failed)
    weibull = fit(life, failed).weibull
    assert weibull.shape == pytest.approx(estimate.rho_, rel=1e-5)
    assert weibull.scale == pytest.approx(estimate.lambda_, rel=1e-5)
    ours = best_ms(lambda: fit(life, failed), 50)
    histories = {seed: fifty_lives(seed) for seed in range(200)}
    each = best_ms(lambda: fit_many(histories), 5) / len(histories)
    print(
        f"\nfit of 50 lives: {ours:.3f} ms, {theirs / ours:.0f} times faster than lifelines "
        f"({theirs:.1f} ms); 200 at once: {each:.3f} ms each, {theirs / each:.0f} times faster"
    )
    assert ours < 5


def test_ten_thousand_histories_in_one_pass() -> None:
    """Against the library on as many of the same histories as it fits in some ten seconds."""
    from lifelines import WeibullFitter

    rng = np.random.default_rng(2)
    drawn, taken_out = 100 * rng.weibull(2.2, (10_000, 50)), rng.uniform(20, 300, (10_000, 50))
    lives, failed = np.minimum(drawn, taken_out), drawn <= taken_out
    histories = dict(enumerate(zip(lives, failed, strict=True)))
    together = best_ms(lambda: fit_many(histories), 2)
    one_by_one = best_ms(lambda: [fit(*histories[at]) for at in range(200)], 2) * 50
    ours, theirs = fit_many(histories), {}

    def fit_theirs() -> None:
        for at in range(FITTED_BY_THE_LIBRARY):
            theirs[at] = WeibullFitter().fit(*histories[at])

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        library = best_ms(fit_theirs, 1) * len(histories) / FITTED_BY_THE_LIBRARY
    for at, estimate in theirs.items():
        assert ours[at].weibull.shape == pytest.approx(estimate.rho_, rel=1e-5)
        assert ours[at].weibull.scale == pytest.approx(estimate.lambda_, rel=1e-5)
    print(
        f"\n10,000 histories of 50 lives: {together / 1000:.2f} s at once, "
        f"{one_by_one / 1000:.2f} s one by one, {library / 1000:.0f} s by lifelines (from "
        f"{FITTED_BY_THE_LIBRARY} of them): {library / together:.0f} times faster; "
        "estimates equal to 1e-5"
    )
    assert together < one_by_one < library


def test_questions_of_a_page() -> None:
    records = [LifeRecord(*one) for one in zip(*fifty_lives(1), strict=True)]
    model = life_model(records)
    timings = {
        "life_model": best_ms(lambda: life_model(records), 30),
        "survives": best_ms(lambda: survives(model, 30, 40), 100),
        "changes, one batch": best_ms(lambda: changes(model, 30, 100), 20),
        "changes, one year": best_ms(lambda: changes(model, 30, 2000), 5),
    }
    print("\n" + "; ".join(f"{name}: {ms:.3f} ms" for name, ms in timings.items()))
    assert timings["survives"] < 1
