"""Product-limit estimates against printed examples."""

import numpy as np
import pytest

from forecasting.kaplan_meier import kaplan_meier

# Documentation of the open-source Python library "reliability", Kaplan-Meier page, example 1;
# also identical to R 4.2.2, survival 3.5-3, survfit with plain limits.
UNITS_FAILED = [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900]
UNITS_GOOD = [
    3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000, 67000,
    69630, 77350, 78470, 91680, 105700, 106300, 150400,
]  # fmt: skip
UNITS_SURVIVAL = [
    0.964286, 0.925714, 0.885466, 0.845217, 0.795499, 0.742465, 0.685353, 0.616817, 0.539715,
    0.269858,
]  # fmt: skip


def test_failure_and_withdrawal_at_one_time_count_the_failure_first() -> None:
    # Bewick, Cheek and Ball (2004), Statistics review 12: Survival analysis, Critical Care 8:389,
    # table 2; Greenwood errors by R 4.2.2, survival 3.5-3.
    times = [1, 1, 4, 5, 6, 9, 9, 22]
    event = [True, True, True, True, False, True, False, True]
    estimate = kaplan_meier(times, event)
    assert estimate.life.tolist() == [1, 4, 5, 9, 22]
    assert estimate.survival == pytest.approx([0.75, 0.625, 0.5, 0.333, 0.0], abs=0.0005)
    assert estimate.at_risk[3] == 3
    assert estimate.standard_error[:4] == pytest.approx([0.1531, 0.1712, 0.1768, 0.18], abs=5e-5)


def test_thirty_one_units_with_normal_limits() -> None:
    estimate = kaplan_meier(UNITS_FAILED + UNITS_GOOD, [True] * 10 + [False] * 21)
    assert estimate.life.tolist() == UNITS_FAILED
    assert estimate.survival == pytest.approx(UNITS_SURVIVAL, abs=1e-6)
    low, high = estimate.limits(0.95)
    at = UNITS_FAILED.index(45000)
    assert (low[at], high[at]) == pytest.approx((0.560893, 0.924037), abs=1e-6)


def test_maintained_arm_of_a_small_real_set() -> None:
    # Miller (1997), Survival Analysis, as data set aml of R package survival 3.5-3: data read
    # there, printed values from memory, checked with survfit.
    times = [9, 13, 13, 18, 23, 28, 31, 34, 45, 48, 161]
    event = np.array([1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 0], bool)
    estimate = kaplan_meier(times, event)
    printed = {9: 0.9091, 13: 0.8182, 18: 0.7159, 23: 0.6136, 31: 0.4909, 34: 0.3682, 48: 0.1841}
    assert dict(zip(estimate.life, estimate.survival, strict=True)) == pytest.approx(
        printed, abs=1e-4
    )
    assert estimate.median == 31
