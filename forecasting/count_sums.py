"""Sums of counts over the next periods: the chance of every value, in tables of many series."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

from forecasting.count_demand import CountBeliefs

__all__ = ["SumTable", "expected_short", "sum_tables"]

WIDTHS = (32, 128, 1024)
"""Values in a table of chances, the next where one does not suffice; then in larger steps."""
SERIES_AT_ONCE = 2000


@dataclass(frozen=True)
class SumTable:
    """Chances that the sum stays within 0, 1, 2, ... times step, per number of periods asked."""

    rows: np.ndarray
    step: int
    within: list[np.ndarray]


def sum_tables(beliefs: CountBeliefs, periods: list[int], chance: float) -> Iterator[SumTable]:
    """Tables of all series, wide enough for the chance over the last number of periods.

    Source: a sum of independent negative binomial counts of one dispersion is negative binomial,
        any textbook of probability. Checked in: tests/published/test_count_sums.py
    """
    rows, step = np.arange(len(beliefs.level)), 1
    for width in WIDTHS:
        rows = yield from _of_width(beliefs, rows, step, width, periods, chance)
    while rows.size:
        too_narrow = beliefs.level[rows].min() * periods[-1] / WIDTHS[-1]
        step = max(2 * step, 2 ** int(np.log2(max(too_narrow, 1.0))))
        rows = yield from _of_width(beliefs, rows, step, WIDTHS[-1], periods, chance)


def _of_width(
    beliefs: CountBeliefs,
    rows: np.ndarray,
    step: int,
    width: int,
    periods: list[int],
    chance: float,
) -> Iterator[SumTable]:
    """Tables of the series for which the width suffices; returns the others."""
    left = [rows[:0]]
    for start in range(0, len(rows), SERIES_AT_ONCE):
        part = rows[start : start + SERIES_AT_ONCE]
        within = [_within(beliefs, part, step, width, ahead) for ahead in periods]
        done = ~(within[-1][:, -1] < chance)
        if done.any():
            yield SumTable(part[done], step, [one[done] for one in within])
        left.append(part[~done])
    return np.concatenate(left)


def _within(
    beliefs: CountBeliefs, rows: np.ndarray, step: int, width: int, periods: int
) -> np.ndarray:
    """Chances that the sum of a mixture of negative binomial counts is at most 0, step, ..."""
    size = beliefs.level[rows] * periods / (beliefs.dispersion - 1)
    weight, success = beliefs.chance[rows], 1 / beliefs.dispersion
    total = np.zeros((len(rows), width))
    if step > 1:
        value = step * np.arange(width) + 1.0
        for cell in range(len(success)):
            total += weight[:, cell, None] * betainc(size[:, cell, None], value, success[cell])
        return total
    chance = weight * np.exp(size * np.log(success))
    total[:, 0] = chance.sum(axis=1)
    for value in range(1, width):
        chance *= (value - 1 + size) / value * (1 - success)
        total[:, value] = total[:, value - 1] + chance.sum(axis=1)
    return total


def expected_short(within: np.ndarray, mean: np.ndarray, step: int) -> np.ndarray:
    """Expected excess of the sum over the levels 0, step, 2 step, ...

    Shapes: within (series, values); mean (series, 1); the result (series, values + 1).
    Source: E[(D - S)+] = E[D] - sum of P(D > n) over n below S, Snyder & Shen (2019), Fundamentals
        of Supply Chain Theory | from memory.
    Checked in: tests/published/test_count_sums.py
    """
    beyond = 1 - within
    falls = beyond - np.hstack([beyond[:, 1:], np.zeros_like(mean)])
    demanded = np.cumsum(step * beyond - (step - 1) / 2 * falls, axis=1)
    return np.maximum(mean - np.hstack([np.zeros_like(mean), demanded]), 0.0)
