"""Whether a range that was given held as often as it should; light enough for a page to import."""

import math
from dataclasses import dataclass

from forecasting.errors import require

__all__ = ["FAILS", "HOLDS", "TOO_FEW", "Coverage", "chance_of_misses"]

FEWEST = 6
DOUBT = 0.01
"""A right range is called too narrow once in a hundred times at most."""

TOO_FEW, HOLDS, FAILS = "too few to say", "holds", "too narrow"


@dataclass(frozen=True)
class Coverage:
    """Forecasts judged, and those whose use lay outside of the range.

    judged: only those that share no day, or chance would be counted double.
    share_missed: what a right range misses, 0.1 for one of nine in ten.
    """

    judged: int
    missed: int
    share_missed: float = 0.1

    @property
    def expected(self) -> float:
        """Misses of a right range, on average."""
        return self.judged * self.share_missed

    @property
    def chance(self) -> float:
        """Chance that a right range misses as often as that, or more often."""
        return chance_of_misses(self.missed, self.judged, self.share_missed)

    @property
    def verdict(self) -> str:
        """One of TOO_FEW, HOLDS, FAILS."""
        if self.judged < FEWEST:
            return TOO_FEW
        return FAILS if self.chance < DOUBT else HOLDS


def chance_of_misses(missed: int, judged: int, share_missed: float) -> float:
    """Chance of at least so many misses when each happens with the share given, independently.

    Raises: OutOfRange.
    Source: exact binomial test, one-sided; any textbook of statistics.
    Checked in: tests/published/test_coverage.py
    """
    require(0 <= missed <= judged, "missed", f"lie between 0 and {judged}", missed)
    require(0 < share_missed < 1, "share_missed", "lie between 0 and 1", share_missed)
    held = 1 - share_missed
    return math.fsum(
        math.comb(judged, n) * share_missed**n * held ** (judged - n)
        for n in range(missed, judged + 1)
    )
