"""Use expected of one item from today on, as a stored forecast tells it: means and quantiles.

Quick on purpose (standard library only): a page asks it for every line it shows.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from forecasting.errors import require

__all__ = ["UseAhead"]


@dataclass(frozen=True)
class UseAhead:
    """Use from today to the end of each day told, stock units.

    days: ascending, from today. means: expected. quantiles: a row a day, ascending. chances: of not
    being exceeded, ascending, one a column. Between days and quantiles lines are straight; beyond
    the last day the mean goes on as it was, its spread with the root of time.
    """

    days: Sequence[float]
    means: Sequence[float]
    quantiles: Sequence[Sequence[float]]
    chances: Sequence[float]

    def __post_init__(self) -> None:
        lengths = {len(self.days), len(self.means), len(self.quantiles)}
        require(len(lengths) == 1 and bool(self.days), "days", "be told for each row", lengths)

    def mean(self, day: float) -> float:
        """Expected use until that day."""
        return self._at(day, self.means, beyond=self._grown(day, 1.0) * self.means[-1])

    def quantile(self, day: float, chance: float) -> float:
        """Use until that day that isn't exceeded with that chance.

        Raises: OutOfRange if chance is outside of 0 to 1.
        """
        require(0 <= chance <= 1, "chance", "lie between 0 and 1", chance)
        points = self._points(day)
        for (low, below), (high, above) in zip(points, points[1:], strict=False):
            if chance <= above:
                return low + (high - low) * (chance - below) / (above - below)
        return points[-1][0]

    def chance_reached(self, qty: float, day: float) -> float:
        """Chance that so much is used by that day."""
        if qty <= 0:
            return 1.0
        return _reached(qty, self._points(day))

    def chances_reached(self, qty: float) -> tuple[float, ...]:
        """The same by each of the days told, never falling."""
        if qty <= 0:
            return (1.0,) * len(self.days)
        by_day = (_reached(qty, self._spread_out(row)) for row in self.quantiles)
        return tuple(accumulate(by_day, max))

    def _points(self, day: float) -> list[tuple[float, float]]:
        return self._spread_out(
            [self._quantile_at(day, column) for column in range(len(self.chances))]
        )

    def _spread_out(self, row: Sequence[float]) -> list[tuple[float, float]]:
        """(use, chance of not being exceeded) from no use to more than is ever seen."""
        points = [(0.0, 0.0), *zip(row, self.chances, strict=True)]
        # Above the last quantile the chance fades as fast as it did below it.
        last, before = points[-1][0], points[-2][0]
        return [*points, (last + (last - before), 1.0)]

    def _quantile_at(self, day: float, column: int) -> float:
        told = [row[column] for row in self.quantiles]
        mean = self.means[-1]
        spread = (told[-1] - mean) * self._grown(day, 0.5)
        return self._at(day, told, beyond=max(told[-1], mean * self._grown(day, 1.0) + spread))

    def _at(self, day: float, values: Sequence[float], *, beyond: float) -> float:
        if day <= 0:
            return 0.0
        if day >= self.days[-1]:
            return beyond
        left, low = 0.0, 0.0
        for right, high in zip(self.days, values, strict=True):
            if day <= right and right > left:
                return low + (high - low) * (day - left) / (right - left)
            left, low = right, high
        return beyond

    def _grown(self, day: float, power: float) -> float:
        return math.pow(max(day / self.days[-1], 1.0), power)


def _reached(qty: float, points: Sequence[tuple[float, float]]) -> float:
    reached = 1.0
    for (low, below), (high, above) in zip(points, points[1:], strict=False):
        if qty >= high:
            reached = 1 - above
        elif qty > low:
            return 1 - below - (above - below) * (qty - low) / (high - low)
    return reached
