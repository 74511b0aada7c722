"""Lead time as a distribution: starts from what the supplier quotes and moves with deliveries."""

import math
from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.special import stdtrit

__all__ = ["LeadTime", "learn_lead_times"]

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


@dataclass(frozen=True)
class LeadTime:
    """Lead time of one item in calendar days. seen: deliveries of its supplier behind it."""

    quoted_days: float
    seen: int
    belief: Belief

    def days(self, chance: np.ndarray | float) -> np.ndarray:
        """Quantile of the next lead time, days; Student's t on the logarithm of actual / quoted."""
        return self._from_standard(stdtrit(self.belief.variance_weight, chance))

    def sample(self, paths: int, rng: np.random.Generator) -> np.ndarray:
        """Lead times for many futures, evenly spread over the chances and shuffled."""
        return rng.permutation(self._from_standard(_even(paths, self.belief.variance_weight)))

    def _from_standard(self, standard: np.ndarray) -> np.ndarray:
        belief = self.belief
        scale = math.sqrt(belief.variance * (1 + 1 / belief.mean_weight))
        log_ratio = belief.mean + scale * standard
        ratio = np.exp(np.clip(log_ratio, math.log(SHORTEST_RATIO), math.log(LONGEST_RATIO)))
        return np.maximum(self.quoted_days * ratio, 1.0)


@lru_cache(maxsize=256)
def _even(paths: int, freedom: float) -> np.ndarray:
    """Student's t at evenly spaced chances; kept, because whole shops share a few freedoms."""
    return stdtrit(freedom, (np.arange(paths) + 0.5) / paths)


def learn_lead_times(items: pd.DataFrame, receipts: pd.DataFrame) -> dict[Hashable, LeadTime]:
    """Lead time per item; shop, supplier and item each move the belief of the one before.

    A group with few deliveries stays near the wider group: the whole shop counts for at most four
    deliveries of a supplier, a supplier for at most eight of an item.
    Shapes: items and receipts as in forecasting.frames.
    """
    receipts = receipts.assign(log_ratio=_log_ratios(receipts), supplier=_known(receipts))
    shop = AS_QUOTED.moved_by(receipts["log_ratio"].to_numpy()).worth_at_most(4, 8)
    by_supplier = dict(list(receipts.groupby("supplier", sort=False)))
    lead_times = {}
    for row in items.assign(supplier=_known(items)).itertuples():
        rows = by_supplier.get(row.supplier, receipts.iloc[:0])
        supplier = shop.moved_by(rows["log_ratio"].to_numpy()).worth_at_most(8, 16)
        own = rows.loc[rows["item"] == row.item, "log_ratio"].to_numpy()
        lead_times[row.item] = LeadTime(row.lead_days, len(rows), supplier.moved_by(own))
    return lead_times


def _log_ratios(receipts: pd.DataFrame) -> pd.Series:
    ratio = receipts["actual_days"] / receipts["quoted_days"]
    return np.log(ratio.clip(SHORTEST_RATIO, LONGEST_RATIO))


def _known(frame: pd.DataFrame) -> pd.Series:
    return frame["supplier"].where(frame["supplier"].notna(), "")
