"""Lives read from measured wear curves.

Agogino and Goebel (2007), Milling Data Set, BEST lab, UC Berkeley; NASA Ames Prognostics Data
Repository: times and wear lands (mm) read in a public copy of its table. The copies do not agree
on the unit of time, so lives are in "units of cutting time". Lives at the limits are worked out
from the readings by hand: a straight line between the two around the limit.
"""

import pytest

from forecasting.wear_curve import life_at_wear

Curve = tuple[list[float], list[float | None]]

CURVES: dict[str, Curve] = {
    "case 1": (
        [2, 4, 6, 7, 11, 15, 19, 22, 26, 29, 32, 35, 38, 41, 44, 46, 48],
        [0, None, None, 0.11, None, 0.2, 0.24, 0.29, 0.28, 0.29, 0.38, 0.4, 0.43, 0.45, 0.5, None,
         0.44],
    ),
    "case 2": (
        [3, 9, 12, 15, 22, 24, 27, 33, 39, 45, 51, 59, 66, 72],
        [0.08, 0.14, 0.14, 0.14, 0.15, None, 0.18, 0.22, 0.26, 0.31, 0.38, 0.43, 0.48, 0.55],
    ),
    "case 5": ([0, 3, 6, 9, 12, 15], [0, 0.16, 0.29, 0.44, 0.53, 0.74]),
    "case 7": ([1, 3, 6, 10, 13, 15, 19, 21], [0, 0.09, 0.13, 0.22, 0.24, 0.34, 0.46, None]),
    "case 9": (
        [1, 3, 9, 16, 22, 28, 34, 40, 46],
        [0, 0.1, 0.14, 0.19, 0.27, 0.38, 0.47, 0.64, 0.81],
    ),
    "case 10": (
        [0, 4, 9, 15, 21, 27, 33, 39, 45, 57],
        [0, 0.04, 0.08, 0.16, 0.25, 0.36, 0.43, 0.47, 0.53, 0.7],
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("case", "at_0_3", "at_0_5"),
    [
        ("case 1", 29.333, 44.0),
        ("case 2", 43.8, 67.714),
        ("case 5", 6.2, 11.0),
        ("case 9", 23.636, 35.059),
        ("case 10", 23.727, 42.0),
    ],
)
def test_life_at_both_wear_limits(case: str, at_0_3: float, at_0_5: float) -> None:
    for limit, life in ((0.3, at_0_3), (0.5, at_0_5)):
        found = life_at_wear(*CURVES[case], limit)
        assert found.reached
        assert found.life == pytest.approx(life, abs=0.01)


def test_limit_never_reached_leaves_the_life_open_at_the_last_measured_wear() -> None:
    assert life_at_wear(*CURVES["case 7"], 0.3).life == pytest.approx(14.2, abs=0.01)
    beyond = life_at_wear(*CURVES["case 7"], 0.5)
    assert (beyond.life, beyond.reached) == (19, False)


def test_falling_wear_is_warned_of() -> None:
    warnings = life_at_wear(*CURVES["case 1"], 0.3).warnings
    assert [warning.split(":")[0] for warning in warnings] == [
        "Wear falls from 0.29 at 22 to 0.28 at 26",
        "Wear falls from 0.5 at 44 to 0.44 at 48",
    ]


def test_missing_reading_is_skipped_without_a_word() -> None:
    assert life_at_wear(*CURVES["case 2"], 0.3).warnings == ()


def test_single_reading_tells_only_that_the_limit_was_not_reached() -> None:
    only = life_at_wear([3], [0.0], 0.3)
    assert (only.life, only.reached) == (3, False)
