"""Cutters used up in many futures: each is changed as it fails, the fitted one first."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

__all__ = ["CutterChanges", "simulate_changes"]

MOST_CUTTERS = 500
"""Beyond so many in the horizon the count is as good as life used over mean life."""
SPARE_DRAWS = 8


@dataclass(frozen=True)
class CutterChanges:
    """When cutters are taken from stock in each future, in life used from today.

    mean_life: life units that one stock unit stands for in the use. taken_at: rising, shape
    (paths, cutters).
    """

    mean_life: float
    taken_at: np.ndarray

    def until(self, used: np.ndarray) -> np.ndarray:
        """Whole cutters taken once so much is used, in mean lives; shape (..., paths)."""
        life = used * self.mean_life
        return (self.taken_at < life[..., None]).sum(axis=-1).astype(float)


def simulate_changes(
    wear: pd.DataFrame, *, most_used: float, paths: int, rng: np.random.Generator
) -> CutterChanges | None:
    """Ends of the fitted cutter, given its age, and of those after it.

    A cutter that has survived `used` fails at scale * ((used / scale)**shape + E)**(1 / shape), E
    exponential with mean 1. With none fitted, the first use takes one from stock.

    Args:
        wear: rows of one item, as in forecasting.frames; each path takes one of them.
        most_used: most use of any path, in mean lives.
    Returns: None where so many are used that the age of one doesn't matter.
    Source: Cox (1962), Renewal Theory, chapter 2, by simulation: from memory.
    Checked in: tests/published/test_renewals.py
    """
    if most_used > MOST_CUTTERS:
        return None
    row = rng.integers(len(wear), size=paths)
    shape, scale, used = (wear[name].to_numpy()[row] for name in ("shape", "scale", "used"))
    mean_life = float(wear["mean_life"].iloc[0])
    if wear["fitted"].iloc[0]:
        spent = (used / scale) ** shape
        first = scale * (spent + rng.exponential(size=paths)) ** (1 / shape) - used
    else:
        first = np.zeros(paths)
    taken_at = first[:, None]
    while taken_at[:, -1].min() < most_used * mean_life:
        lives = scale[:, None] * rng.exponential(size=(paths, round(most_used) + SPARE_DRAWS)) ** (
            1 / shape[:, None]
        )
        taken_at = np.hstack([taken_at, taken_at[:, -1:] + lives.cumsum(axis=1)])
    return CutterChanges(mean_life, taken_at)
