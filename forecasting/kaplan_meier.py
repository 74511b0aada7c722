"""Share of cutters still good at each life, with no assumption about the distribution."""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import require
from forecasting.weibull import checked_lives

__all__ = ["KaplanMeier", "kaplan_meier"]


@dataclass(frozen=True, eq=False)
class KaplanMeier:
    """Product-limit estimate; every array has one entry a life at which something failed.

    Args:
        life: rising.
        at_risk: cutters still watched just before that life.
        failures: how many failed at it.
        survival: share still good just after it.
        standard_error: Greenwood's, of survival.
    """

    life: NDArray[np.float64]
    at_risk: NDArray[np.int64]
    failures: NDArray[np.int64]
    survival: NDArray[np.float64]
    standard_error: NDArray[np.float64]

    def survival_at(self, life: float) -> float:
        """Share still good after this life: the step reached, 1 before the first failure."""
        steps = int(np.searchsorted(self.life, life, side="right"))
        return 1.0 if steps == 0 else float(self.survival[steps - 1])

    @property
    def median(self) -> float | None:
        """First life at which no more than half are still good; None if it never comes to that."""
        reached = np.flatnonzero(self.survival <= 0.5 + 1e-12)
        return float(self.life[reached[0]]) if reached.size else None

    def limits(self, confidence: float = 0.95) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lower and upper normal limits of survival, cut off at 0 and 1."""
        require(0 < confidence < 1, "confidence", "lie between 0 and 1", confidence)
        margin = NormalDist().inv_cdf((1 + confidence) / 2) * self.standard_error
        return np.maximum(self.survival - margin, 0.0), np.minimum(self.survival + margin, 1.0)


def kaplan_meier(life: ArrayLike, failed: ArrayLike) -> KaplanMeier:
    """Product-limit estimate of survival; at a tie, failures come before censored lives.

    Args:
        life, failed: shape (n,), as `weibull.fit`.
    Source: Kaplan and Meier (1958), J. Am. Stat. Assoc. 53, pp. 457-481; standard error: Greenwood
        (1926): both from memory.
    Checked in: tests/published/test_kaplan_meier.py
    """
    lives, failures = checked_lives(life, failed)
    at, count = np.unique(lives[failures], return_counts=True)
    at_risk = lives.size - np.searchsorted(np.sort(lives), at, side="left")
    survival = np.cumprod(1 - count / at_risk)
    left = at_risk - count
    terms = np.divide(count, at_risk * left, out=np.zeros(at.size), where=left > 0)
    return KaplanMeier(at, at_risk, count, survival, survival * np.sqrt(np.cumsum(terms)))
