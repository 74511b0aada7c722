"""Lead time as a distribution: starts from what the supplier quotes and moves with deliveries."""

import math
from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.special import stdtrit

__all__ = ["LeadTime", "learn_lead_times"]

QUANTILE_DRAWS = 2000
NO_ROWS = np.zeros(0, dtype=int)
SHORTEST_RATIO, LONGEST_RATIO = 0.3, 4.0
"""Actual over quoted lead time; beyond these an order is lost, not late (common practice)."""


@dataclass(frozen=True)
class Belief:
    """Normal mean and variance of log(actual / quoted), each with its weight in deliveries."""

    mean: float
    mean_weight: float
    variance: float
    variance_weight: float

    def moved_by(self, logs: np.ndarray) -> "Belief":
        """The belief after seeing deliveries.

        Source: conjugate update of a normal with unknown mean and variance, e.g. Gelman et al.
            (2013), Bayesian Data Analysis, 3rd ed., section 3.3 | from memory.
        """
        n = len(logs)
        if n == 0:
            return self
        seen, mean_weight = float(logs.mean()), self.mean_weight + n
        surprise = self.mean_weight * n / mean_weight * (seen - self.mean) ** 2
        squares = self.variance_weight * self.variance + float(((logs - seen) ** 2).sum())
        return Belief(
            mean=(self.mean_weight * self.mean + n * seen) / mean_weight,
            mean_weight=mean_weight,
            variance=(squares + surprise) / (self.variance_weight + n),
            variance_weight=self.variance_weight + n,
        )

    def worth_at_most(self, mean_weight: float, variance_weight: float) -> "Belief":
        """The belief as a starting point for a narrower group, which may differ from it."""
        return Belief(
            self.mean,
            min(self.mean_weight, mean_weight),
            self.variance,
            min(self.variance_weight, variance_weight),
        )


AS_QUOTED = Belief(mean=0.0, mean_weight=2.0, variance=0.15**2, variance_weight=6.0)
"""Before any delivery: as quoted, give or take 15 % (assumption, common practice, no source)."""


LATE = 0.3
"""A delivery is late for itself when it takes 35 % longer than is usual for its supplier."""
LATE_SHARE, LATE_SHARE_WEIGHT = 0.05, 10.0
LATE_EXCESS, LATE_EXCESS_WEIGHT = 0.35, 2.0
"""Before any delivery: one in twenty is late for itself, by half as long again (assumption)."""


@dataclass(frozen=True)
class LeadTime:
    """Lead time of one item in calendar days. seen: rows of its supplier in the receipts.

    belief: log of actual / quoted for usual deliveries. late_share: chance that one is late for
    itself; late_excess: mean of the exponential by which its logarithm is then longer.
    """

    quoted_days: float
    seen: int
    belief: Belief
    late_share: float
    late_excess: float

    def days(self, chance: np.ndarray | float) -> np.ndarray:
        """Quantile of the next lead time, days."""
        return np.quantile(self.sample(QUANTILE_DRAWS, np.random.default_rng(0)), chance)

    def sample(self, paths: int, rng: np.random.Generator) -> np.ndarray:
        """Lead times for many futures, evenly spread over the chances and shuffled."""
        belief, late = self.belief, round(self.late_share * paths)
        scale = math.sqrt(belief.variance * (1 + 1 / belief.mean_weight))
        log_ratio = belief.mean + scale * rng.permutation(_even(paths, belief.variance_weight))
        log_ratio[:late] += LATE - self.late_excess * np.log(_chances(late))
        ratio = np.exp(np.clip(log_ratio, math.log(SHORTEST_RATIO), math.log(LONGEST_RATIO)))
        return rng.permutation(np.maximum(self.quoted_days * ratio, 1.0))


def _chances(count: int) -> np.ndarray:
    return (np.arange(count) + 0.5) / max(count, 1)


@lru_cache(maxsize=256)
def _even(paths: int, freedom: float) -> np.ndarray:
    """Student's t at evenly spaced chances; kept, because whole shops share a few freedoms."""
    return stdtrit(freedom, _chances(paths))


def learn_lead_times(items: pd.DataFrame, receipts: pd.DataFrame) -> dict[Hashable, LeadTime]:
    """Lead time per item; shop, supplier and item each move the belief of the one before.

    A group with few deliveries stays near the wider group: the whole shop counts for at most four
    deliveries of a supplier, the supplier's other items for at most eight of an item. Deliveries
    late for themselves are kept apart, so that one lost parcel makes the late tail longer and not
    every delivery slower.
    Shapes: items and receipts as in forecasting.frames.
    """
    logs, delivered = _log_ratios(receipts).to_numpy(), receipts["item"].to_numpy()
    rows_of = receipts.groupby(_known(receipts), sort=False).indices
    excess = logs - _usual(logs, rows_of) - LATE
    late = excess > 0
    shop = AS_QUOTED.moved_by(logs[~late]).worth_at_most(4, 8)
    shop_share = _moved(LATE_SHARE, LATE_SHARE_WEIGHT, late)
    late_excess = _moved(LATE_EXCESS, LATE_EXCESS_WEIGHT, excess[late])
    lead_times = {}
    for item, supplier, quoted in zip(
        items["item"], _known(items), items["lead_days"], strict=True
    ):
        rows = rows_of.get(supplier, NO_ROWS)
        usual = rows[~late[rows]]
        own = delivered[usual] == item
        belief = shop.moved_by(logs[usual[~own]]).worth_at_most(8, 16).moved_by(logs[usual[own]])
        share = _moved(shop_share, LATE_SHARE_WEIGHT, late[rows])
        lead_times[item] = LeadTime(quoted, len(rows), belief, share, late_excess)
    return lead_times


def _usual(logs: np.ndarray, rows_of: dict[Hashable, np.ndarray]) -> np.ndarray:
    """Median of the supplier's deliveries, of all with fewer than three, the quote without any."""
    usual = np.full(len(logs), np.median(logs) if len(logs) >= 3 else 0.0)
    for rows in rows_of.values():
        if len(rows) >= 3:
            usual[rows] = np.median(logs[rows])
    return usual


def _moved(before: float, weight: float, seen: np.ndarray) -> float:
    """Mean of what was seen and of a belief worth that many observations."""
    return float((weight * before + seen.sum()) / (weight + len(seen)))


def _log_ratios(receipts: pd.DataFrame) -> pd.Series:
    ratio = receipts["actual_days"] / receipts["quoted_days"]
    return np.log(ratio.clip(SHORTEST_RATIO, LONGEST_RATIO))


def _known(frame: pd.DataFrame) -> pd.Series:
    return frame["supplier"].where(frame["supplier"].notna(), "")
