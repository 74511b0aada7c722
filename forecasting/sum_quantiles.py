"""Demand summed over the next periods: its quantiles, and the share of it a level would meet."""

from collections.abc import Sequence

import numpy as np

from forecasting.count_demand import CountHabits, learn_counts, learn_habits
from forecasting.count_sums import sum_tables
from forecasting.errors import require
from forecasting.fill_tables import fill_tables

__all__ = ["expected_demand", "expected_fill", "level_for_fill", "quantiles_of_sums"]


def quantiles_of_sums(
    counts: np.ndarray,
    periods_ahead: int,
    chances: Sequence[float],
    habits: CountHabits | None = None,
) -> np.ndarray:
    """Whole numbers that the demand of the next periods together stays within, by chance.

    The sum is a mixture of negative binomials as learn_counts believes in them, its mean corrected
    by the shop's past. The same input gives the same numbers.
    Args:
        counts: demand per period, whole numbers; NaN where not known, as when nothing was there.
        habits: learned from the whole shop (learn_habits) when counts are only a part of it, or
            once for many days.
    Shapes: counts (series, periods), none of either allowed; the result is (series, chances).
    Raises: OutOfRange.
    """
    require(periods_ahead >= 1, "periods_ahead", "be 1 or more", periods_ahead)
    for chance in chances:
        require(0 < chance < 1, "chance", "lie between 0 and 1 (write 0.95 for 95 %)", chance)
    habits = habits or learn_habits(counts, periods_ahead)
    result = np.zeros((len(counts), len(chances)))
    for table in sum_tables(
        learn_counts(counts, habits), [periods_ahead], max(chances, default=0.5)
    ):
        for column, chance in enumerate(chances):
            result[table.rows, column] = table.step * (table.within[0] < chance).sum(axis=1)
    return result


def expected_demand(
    counts: np.ndarray, periods_ahead: int, habits: CountHabits | None = None
) -> np.ndarray:
    """Mean of the distribution of quantiles_of_sums, (series,)."""
    require(periods_ahead >= 1, "periods_ahead", "be 1 or more", periods_ahead)
    beliefs = learn_counts(counts, habits or learn_habits(counts, periods_ahead))
    return beliefs.mean * periods_ahead


def expected_fill(
    counts: np.ndarray,
    levels: np.ndarray,
    *,
    lead: int,
    review: int = 1,
    habits: CountHabits | None = None,
) -> np.ndarray:
    """Share of demand met from the shelf when stock is raised to a level at every review.

    As forecasting.fill_tables, under the distribution of quantiles_of_sums.
    Args: levels: on hand and on order together after ordering. lead, review: periods.
    Shapes: counts (series, periods); levels and result (series, any number).
    Raises: OutOfRange.
    """
    result = np.zeros(np.shape(levels))
    for table in fill_tables(counts, lead, review, habits):
        result[table.rows] = table.fill_at(levels[table.rows])
    return result


def level_for_fill(
    counts: np.ndarray,
    targets: Sequence[float],
    *,
    lead: int,
    review: int = 1,
    habits: CountHabits | None = None,
) -> np.ndarray:
    """Least levels whose expected fill reaches the targets.

    A level is a whole number, so that the fill expected of it is often above the target: show that.
    Shapes: counts (series, periods); the result (series, targets). Raises: OutOfRange.
    """
    for target in targets:
        require(0 < target < 1, "target", "lie between 0 and 1 (write 0.95 for 95 %)", target)
    result = np.zeros((len(counts), len(targets)))
    for table in fill_tables(counts, lead, review, habits):
        for column, target in enumerate(targets):
            result[table.rows, column] = table.step * np.argmax(table.fill >= target, axis=1)
    return result
