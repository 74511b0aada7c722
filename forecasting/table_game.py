"""The periods of a demand table that rules are played over, and what they lead to."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from forecasting.ordering_rule import Levels, PlayedMany, play_many

__all__ = ["LevelsOf", "TableGame"]

LevelsOf = Callable[[np.ndarray], Levels]
"""Levels from the demand known at a look."""


@dataclass(frozen=True)
class TableGame:
    """What all rules share: demand (series, periods), worth of a unit, terms."""

    demand: np.ndarray
    worth: np.ndarray
    lead: int
    review: int
    known: int
    played_from: int

    @property
    def lasts(self) -> int:
        return self.lead + self.review

    def before(self) -> "TableGame | None":
        """The same played over the last known periods; None where they are too few to judge by.

        Series nobody had asked for until then are left out: they show how demand begins, not how a
        level stands to it, and where most had begun since, none like them are left.
        """
        stretch = min(self.demand.shape[1] - self.known, self.known // 3)
        known = self.known - stretch
        played_from = known - self.lasts
        if min(stretch, played_from) < self.lasts:
            return None
        demand = self.demand[:, : self.known]
        asked_for = (demand[:, :played_from] > 0).any(axis=1)
        kept = asked_for & ~np.isnan(demand[:, played_from:]).any(axis=1)
        if not demand[kept, known:].any():
            return None
        return TableGame(demand[kept], self.worth[kept], self.lead, self.review, known, played_from)

    @property
    def looks(self) -> range:
        """Periods before which a rule may order."""
        return range(self.played_from, self.demand.shape[1], self.review)

    def levels(self, rule: LevelsOf) -> list[Levels]:
        """What the rule asks for in each period played, from what was known at its last look."""
        whole = bool((np.mod(np.nan_to_num(self.demand), 1) == 0).all())
        seen = []
        for look in self.looks:
            level = rule(self.demand[:, :look])
            rounded = _rounded_up(level) if whole else level
            seen += [rounded] * min(self.review, self.demand.shape[1] - look)
        return seen

    def play(self, levels: list[Levels]) -> PlayedMany:
        return play_many(
            self.demand[:, self.played_from :],
            levels,
            start=levels[0].order_up_to,
            lead=self.lead,
            review=self.review,
            not_counted=self.known - self.played_from,
        )

    def fills_and_stocks(self, played: PlayedMany) -> tuple[np.ndarray, np.ndarray]:
        asked = played.demand @ self.worth
        fills = np.where(
            asked > 0, played.served_at_once @ self.worth / np.maximum(asked, 1e-12), 1
        )
        return fills, played.mean_stock @ self.worth


def _rounded_up(level: Levels) -> Levels:
    up_to = np.ceil(level.order_up_to - 1e-9)
    if level.reorder_point is level.order_up_to:
        return Levels(up_to, up_to)
    return Levels(np.ceil(level.reorder_point - 1e-9), up_to)
