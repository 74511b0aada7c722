import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from forecasting.errors import BadInput, OutOfRange
from forecasting.tool_life import (
    LifeModel,
    LifeRecord,
    Prior,
    change_policy,
    changes,
    life_model,
    spares_to_lay_out,
    survival_range,
    survives,
)
from forecasting.weibull import Weibull, fit

# Roughing end mill, minutes in cut: common practice, no source.
ROUGHER = Prior(nominal_life=104, shape=2.2, low=60, high=180, source="usual for roughing")
WORN_AT = (60, 80, 90, 110, 130, 140)


def worn(*lives: float) -> list[LifeRecord]:
    return [LifeRecord.ended(life, "worn") for life in lives]


@pytest.fixture(scope="module")
def rougher() -> LifeModel:
    return life_model([*worn(*WORN_AT), LifeRecord.ended(50, "still_in_use")], ROUGHER)


@pytest.mark.parametrize(
    ("reason", "failed"),
    [
        ("worn", True),
        ("broken", True),
        ("removed_early", False),
        ("lost", False),
        ("still_in_use", False),
    ],
)
def test_only_worn_and_broken_are_failures(reason: str, failed: bool) -> None:
    assert LifeRecord.ended(80, reason) == LifeRecord(80, failed)


def test_unknown_end_reason_is_refused() -> None:
    with pytest.raises(BadInput, match="one of worn, broken, .*, but got 'tired'"):
        LifeRecord.ended(80, "tired")


def test_five_failures_are_fitted_and_the_expectation_steps_aside(rougher: LifeModel) -> None:
    assert not rougher.from_expectation
    assert rougher.weibull == fit([*WORN_AT, 50], [True] * 6 + [False]).weibull
    assert rougher.words == "6 failures seen, 1 cutter was still good when last noted."


def test_model_can_be_kept_and_asked_again_later(rougher: LifeModel) -> None:
    kept = pickle.loads(pickle.dumps(rougher))
    assert survives(kept, 30, 40) == survives(rougher, 30, 40)
    assert kept.shape_interval == rougher.shape_interval


def test_cutters_removed_early_are_not_taken_as_worn() -> None:
    removed = [LifeRecord.ended(life, "removed_early") for life in (40, 45, 50)]
    right = life_model(worn(*WORN_AT) + removed).weibull
    wrong = life_model(worn(*WORN_AT, 40, 45, 50)).weibull
    assert right.mean > 1.1 * wrong.mean


def test_few_failures_move_the_expected_life_and_the_words_say_so() -> None:
    model = life_model(worn(40, 45), ROUGHER)
    assert model.from_expectation
    assert 42.5 < model.weibull.mean < 104
    assert model.words == (
        "2 failures seen: fewer than 5 are too few for a fit of their own. The expected life of "
        "104 (60 to 180; usual for roughing) counts like 2.3 failures and is moved by the records."
    )


def test_expected_life_alone_is_given_back_before_the_first_record() -> None:
    model = life_model([], ROUGHER)
    assert model.weibull.mean == pytest.approx(104, rel=1e-4)
    assert model.weibull.shape == pytest.approx(2.2, rel=1e-4)
    assert model.words.startswith("No failure seen: ")


def test_cutters_still_good_beyond_the_expected_life_lengthen_it() -> None:
    running = [LifeRecord.ended(150, "still_in_use")] * 3
    assert life_model(running, ROUGHER).weibull.mean > 1.3 * 104


def test_few_failures_without_an_expected_life_warn_of_wide_ranges() -> None:
    model = life_model(worn(80, 110))
    low, high = survival_range(model, used=30, job=40)
    assert model.words.endswith("Only the spread usual for cutters is assumed; expect wide ranges.")
    assert high - low > 0.4


def test_neither_failure_nor_expected_life_is_refused() -> None:
    with pytest.raises(BadInput, match="no failure among 1 lives .* state an expected life"):
        life_model([LifeRecord.ended(30, "still_in_use")])


def test_failures_all_at_one_life_are_not_fitted_but_still_answered() -> None:
    model = life_model(worn(100, 100, 100, 100, 100, 100), ROUGHER)
    assert model.from_expectation
    assert "all ended at the longest life" in model.words
    assert model.weibull.mean == pytest.approx(100, rel=0.1)


def test_wide_expectation_counts_for_less_than_a_narrow_one() -> None:
    narrow, wide = Prior(100, 2.2, 80, 125), Prior(100, 2.2, 40, 250)
    assert narrow.weight > 3 * wide.weight
    moved = [life_model(worn(50), prior).weibull.mean for prior in (wide, narrow)]
    assert moved[0] < moved[1] < 100


@pytest.mark.parametrize(("low", "high"), [(120, 180), (60, 90), (-1, 180), (100, 100)])
def test_expected_life_outside_its_own_range_is_refused(low: float, high: float) -> None:
    with pytest.raises(OutOfRange, match="low and high must enclose the life 100"):
        Prior(100, 2, low, high)


def test_worn_cutter_is_less_likely_to_last_the_job(rougher: LifeModel) -> None:
    chances = [survives(rougher, used, job=40) for used in (0, 30, 60, 90)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.9 > 0.6 > chances[-1]


def test_chance_lies_within_its_range(rougher: LifeModel) -> None:
    low, high = survival_range(rougher, used=30, job=40)
    assert low < survives(rougher, used=30, job=40) < high


def test_no_job_needs_no_change(rougher: LifeModel) -> None:
    none = changes(rougher, used=30, job=0)
    assert (none.expected, none.p95, none.chance_of_none) == (0, 0, 1)
    assert spares_to_lay_out(rougher, used=30, job=0) == 0


def test_changes_of_a_year_are_near_use_over_mean_life(rougher: LifeModel) -> None:
    year = changes(rougher, used=0, job=2000)
    assert year.expected == pytest.approx(2000 / rougher.weibull.mean - 0.4, rel=0.05)
    assert year.expected < year.p95 < 1.5 * year.expected


def test_p95_is_the_spares_for_nineteen_in_twenty(rougher: LifeModel) -> None:
    for job in (20, 60, 300):
        needed = changes(rougher, used=20, job=job).p95
        assert spares_to_lay_out(rougher, used=20, job=job, confidence=0.95) == needed


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 150), st.floats(0, 300), st.sampled_from([0.5, 0.8, 0.95, 0.99]))
def test_longer_job_or_higher_confidence_never_needs_fewer_spares(
    rougher: LifeModel, used: float, job: float, confidence: float
) -> None:
    spares = spares_to_lay_out(rougher, used, job, confidence)
    assert spares <= spares_to_lay_out(rougher, used, job + 30, confidence)
    assert spares <= spares_to_lay_out(rougher, used, job, 0.995)


@pytest.mark.parametrize(("used", "job"), [(-1, 10), (10, -1), (float("nan"), 10)])
def test_impossible_use_is_refused(rougher: LifeModel, used: float, job: float) -> None:
    for ask in (survives, survival_range, changes, spares_to_lay_out):
        with pytest.raises(OutOfRange, match="must be a number of 0 or more"):
            ask(rougher, used, job)


def test_wearing_cutter_is_changed_in_time_when_failure_is_dear(rougher: LifeModel) -> None:
    policy = change_policy(rougher, cost_planned=40, cost_failure=200)
    assert rougher.shape_interval[0] > 1
    assert 0.3 * rougher.weibull.mean < policy.age < rougher.weibull.mean
    assert policy.words.startswith(f"Changing at {policy.age:.3g} saves about")


def test_chance_breakage_is_answered_with_a_spare_and_not_with_an_age() -> None:
    model = life_model(worn(5, 15, 30, 55, 90, 160))
    low, high = model.shape_interval
    policy = change_policy(model, cost_planned=20, cost_failure=100)
    assert low < 1 < high
    assert (policy.age, policy.saving) == (None, 0)
    assert policy.words.startswith("Replace on failure, keep a spare")


def test_dear_failure_with_an_unsure_shape_names_the_age_that_may_pay() -> None:
    model = life_model(worn(30, 55, 80, 100, 160))
    policy = change_policy(model, cost_planned=20, cost_failure=200)
    assert model.shape_interval[0] < 1 < model.weibull.shape
    assert policy.age is None
    assert "If it wears" in policy.words


def test_change_in_time_that_costs_as_much_is_never_advised(rougher: LifeModel) -> None:
    policy = change_policy(rougher, cost_planned=100, cost_failure=100)
    assert policy.age is None
    assert "would not cost less" in policy.words


def test_advice_before_enough_failures_says_what_it_rests_on() -> None:
    words = change_policy(life_model(worn(80), ROUGHER), cost_planned=40, cost_failure=200).words
    assert words.endswith("It rests on the expected life as well as on records.")


@pytest.mark.slow
@pytest.mark.parametrize("failures", [0, 2, 4, 5, 8])
def test_cutters_last_jobs_as_often_as_promised(failures: int) -> None:
    """Shops drawn from the expected range; the promise is held against the true chance."""
    rng = np.random.default_rng(11)
    promised, true, covered = [], [], []
    for _ in range(500):
        shape = 2.2 * 2 ** (rng.standard_normal() / 1.645)
        scale = Weibull(2.2, 1).mean ** -1 * 104 * 3 ** (rng.standard_normal() / 3.29)
        truth = Weibull(shape, scale)
        model = life_model(worn(*(scale * rng.weibull(shape, failures))), ROUGHER)
        used = rng.uniform(0, 60)
        promised.append(survives(model, used, 40))
        true.append(truth.chance_of_surviving(used, 40))
        spares = spares_to_lay_out(model, used, 200, 0.9)
        left = scale * ((used / scale) ** shape + rng.exponential()) ** (1 / shape) - used
        covered.append(left + (scale * rng.weibull(shape, spares)).sum() >= 200)
    assert np.mean(promised) == pytest.approx(np.mean(true), abs=0.03)
    assert np.mean(covered) >= 0.88


@pytest.mark.slow
def test_life_promised_to_nine_in_ten_is_reached_by_nine_in_ten() -> None:
    rng = np.random.default_rng(7)
    outlived = {"averaged": [], "fit alone": []}
    for _ in range(1000):
        truth = Weibull(float(rng.choice([1.2, 2.2, 3.5])), 100)
        model = life_model(worn(*(100 * rng.weibull(truth.shape, 5))))
        nine_in_ten = brentq(lambda job, model=model: survives(model, 0, job) - 0.9, 1e-6, 1000)
        outlived["averaged"].append(truth.survival(nine_in_ten))
        outlived["fit alone"].append(truth.survival(model.weibull.b10))
    assert np.mean(outlived["averaged"]) == pytest.approx(0.9, abs=0.015)
    assert np.mean(outlived["fit alone"]) < 0.86


def test_saving_over_a_thousand_minutes_is_the_difference_of_the_cost_rates(
    rougher: LifeModel,
) -> None:
    steep = life_model(worn(110, 115, 118, 120, 122, 125))
    policy = change_policy(steep, 20, 200)
    assert policy.saved_over(1000) == pytest.approx(
        1000 * policy.saving * policy.cost_rate_on_failure
    )
    never = change_policy(rougher, 20, 20)
    assert never.saved_over(1000) == 0


@pytest.mark.parametrize("used", [0, 29, 30.05, 90, 900])
def test_lives_that_hardly_differ_give_a_chance_at_any_age(used):
    # The fitted shape is in the hundreds: powers of it overflow where their logarithms don't.
    model = life_model(worn(30, 30, 30, 30, 30.1))
    assert 0 <= survives(model, used, 20) <= 1
    low, high = survival_range(model, used, 20)
    assert 0 <= low <= high <= 1
    expected = changes(model, used, 20)
    assert np.isfinite(expected.expected)
    assert expected.p95 >= (1 if used >= 29 else 0)
