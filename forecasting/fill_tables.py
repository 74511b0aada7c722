"""The share of demand that each level of stock would meet, in tables of many series."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from forecasting.count_demand import CountHabits, learn_counts, learn_habits
from forecasting.count_sums import expected_short, sum_tables
from forecasting.errors import require

__all__ = ["FillTable", "fill_tables"]

NEARLY_CERTAIN = 1 - 1e-7
NO_DEMAND = 1e-7
"""Expected per period; below, there is nothing that a level could fail to meet."""


@dataclass(frozen=True)
class FillTable:
    """What to expect when stock is raised to the levels 0, 1, 2, ... times step at every review.

    rows: numbers of the series. demand: expected between two reviews, (rows,). fill: share of it
    met at once, (rows, levels). within_lead, within_protected: chances that the demand of the lead
    time, and of lead time and review, stays within the level, (rows, levels - 1).
    """

    rows: np.ndarray
    step: int
    demand: np.ndarray
    fill: np.ndarray
    within_lead: np.ndarray
    within_protected: np.ndarray

    def fill_at(self, levels: np.ndarray) -> np.ndarray:
        """Fill of any levels, straight between those of the table; both (rows, any number)."""
        last = self.fill.shape[1] - 1
        place = np.minimum(levels / self.step, float(last))
        below = np.floor(place).astype(int)
        low, high = (
            np.take_along_axis(self.fill, column, axis=1)
            for column in (below, np.minimum(below + 1, last))
        )
        return low + (high - low) * (place - below)


def fill_tables(
    counts: np.ndarray, lead: int, review: int, habits: CountHabits | None = None
) -> Iterator[FillTable]:
    """Tables of all series, under the distribution of forecasting.sum_quantiles.

    What waits is delivered later: what is short at the end of a review period and was not short at
    its start, over the demand between. Args as for expected_fill there. Raises: OutOfRange.
    Source: order-up-to with periodic review, fill 1 - (E[(D(L+R)-S)+] - E[(D(L)-S)+]) / E[D(R)],
        any textbook of inventory control | from memory.
    Checked in: tests/forecasting/test_sum_quantiles.py
    """
    require(lead >= 0, "lead", "not be negative", lead)
    require(review >= 1, "review", "be 1 or more", review)
    beliefs = learn_counts(counts, habits or learn_habits(counts, lead + review))
    mean = beliefs.mean
    for table in sum_tables(beliefs, [lead, lead + review], NEARLY_CERTAIN):
        expected = mean[table.rows, None]
        short_before, short_after = (
            expected_short(within, expected * periods, table.step)
            for within, periods in zip(table.within, (lead, lead + review), strict=True)
        )
        fill = 1 - (short_after - short_before) / (expected * review)
        fill[:, -1] = 1.0
        fill[expected[:, 0] < NO_DEMAND] = 1.0
        fill = np.clip(fill, 0, 1)
        yield FillTable(table.rows, table.step, expected[:, 0] * review, fill, *table.within)
