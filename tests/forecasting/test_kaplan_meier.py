import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecasting.errors import BadInput, OutOfRange
from forecasting.kaplan_meier import kaplan_meier

histories = st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=40)


@settings(max_examples=25, deadline=None)
@given(histories)
def test_estimate_agrees_with_an_independent_library(history: list[tuple[int, bool]]) -> None:
    from lifelines import KaplanMeierFitter

    life, failed = zip(*history, strict=True)
    estimate = kaplan_meier(life, failed)
    theirs = KaplanMeierFitter().fit(life, failed)
    for at in estimate.life:
        assert estimate.survival_at(at) == pytest.approx(theirs.predict(at), abs=1e-9)


def test_without_censoring_it_is_the_share_still_good() -> None:
    estimate = kaplan_meier([10, 20, 30, 40], [True] * 4)
    assert [estimate.survival_at(at) for at in (0, 9.9, 10, 25, 40, 99)] == pytest.approx(
        [1, 1, 0.75, 0.5, 0, 0]
    )
    assert estimate.median == 20


def test_no_failure_leaves_everything_standing() -> None:
    estimate = kaplan_meier([10, 20], [False, False])
    assert estimate.life.size == 0
    assert estimate.survival_at(15) == 1
    assert estimate.median is None


def test_limits_stay_within_none_and_all() -> None:
    low, high = kaplan_meier([10, 20, 30], [True, True, True]).limits(0.99)
    assert low.min() >= 0
    assert high.max() <= 1
    assert np.isfinite([low, high]).all()


def test_confidence_in_per_cent_is_refused() -> None:
    with pytest.raises(OutOfRange, match="confidence must lie between 0 and 1, but got 95"):
        kaplan_meier([10, 20], [True, True]).limits(95)


def test_negative_life_is_refused() -> None:
    with pytest.raises(BadInput, match="life must be a number of 0 or more, but got -1"):
        kaplan_meier([-1, 2], [True, True])
