from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.errors import BadInput
from forecasting.wear_curve import life_at_wear


@given(st.lists(st.integers(1, 50), min_size=2, max_size=12), st.integers(1, 400))
def test_life_lies_between_the_readings_around_the_limit(steps: list[int], limit: int) -> None:
    wear = [sum(steps[: i + 1]) for i in range(len(steps))]
    use = [10 * i for i in range(len(steps))]
    found = life_at_wear(use, wear, limit)
    assert found.reached == (wear[-1] >= limit)
    below = [at for at, land in zip(use, wear, strict=True) if land < limit]
    if found.reached and below:
        assert below[-1] < found.life <= below[-1] + 10


def test_none_and_nan_are_both_missing_readings() -> None:
    with_gaps = life_at_wear([0, 10, 20, 30], [0, None, nan, 300], 150)
    assert with_gaps.life == pytest.approx(15)
    assert with_gaps.warnings == ()


def test_wear_past_the_limit_at_first_sight_gives_the_longest_possible_life() -> None:
    found = life_at_wear([12, 20], [310, 400], 300)
    assert (found.life, found.reached) == (12, True)
    assert found.warnings == ("Wear was already 310 at the first reading: life is 12 at most.",)


@pytest.mark.parametrize(
    ("use", "wear", "limit", "match"),
    [
        ([0, 10], [None, nan], 300, "no wear reading is left"),
        ([], [], 300, "no wear reading is left"),
        ([10, 10], [100, 200], 300, "use must rise from 0"),
        ([-5, 10], [100, 200], 300, "use must rise from 0"),
        ([0, 10], [0, -20], 300, "wear must be a number of 0 or more, but got -20"),
        ([0, 10], [0], 300, "use and wear must have one length"),
        ([0, 10], [0, 100], 0, "limit must be a number above 0"),
    ],
)
def test_readings_that_cannot_be_used_are_refused(
    use: list[float], wear: list[float | None], limit: float, match: str
) -> None:
    with pytest.raises(BadInput, match=match):
        life_at_wear(use, wear, limit)
