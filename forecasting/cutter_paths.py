"""Cutters used up in many futures: each is changed as it fails, what is fitted first."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

__all__ = ["CutterChanges", "simulate_changes"]

MOST_CUTTERS = 500
"""Beyond so many in the horizon the count is as good as life used over mean life."""
SPARE_DRAWS = 8


@dataclass(frozen=True)
class CutterChanges:
    """When cutters are taken from stock in each future, in life used from today at one station.

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
    """Ends of those in line, given their ages, and of the new ones after them.

    A cutter that has survived `used` fails at scale * ((used / scale)**shape + E)**(1 / shape), E
    exponential with mean 1. With none in line, the first use takes one from stock.

    Args:
        wear: rows of one item at one station, as in forecasting.frames: as many for each turn;
            each path takes one of them, and the same one at every turn.
        most_used: most use of any path, in mean lives.
    Returns: None where so many are used that the age of one doesn't matter.
    Source: Cox (1962), Renewal Theory, chapter 2, by simulation: from memory.
    Checked in: tests/published/test_renewals.py
    """
    if most_used > MOST_CUTTERS:
        return None
    turns = dict(iter(wear.groupby("turn")))
    new = turns.pop(0.0)
    row = rng.integers(len(new), size=paths)
    shape, scale = (new[name].to_numpy()[row] for name in ("shape", "scale"))
    mean_life = float(new["mean_life"].iloc[0])
    first_new = sum((_left(turns[turn], row, rng) for turn in sorted(turns)), np.zeros(paths))
    taken_at = first_new[:, None]
    while taken_at[:, -1].min() < most_used * mean_life:
        lives = scale[:, None] * rng.exponential(size=(paths, round(most_used) + SPARE_DRAWS)) ** (
            1 / shape[:, None]
        )
        taken_at = np.hstack([taken_at, taken_at[:, -1:] + lives.cumsum(axis=1)])
    return CutterChanges(mean_life, taken_at)


def _left(turn: pd.DataFrame, row: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """What is left of the one in line at this turn, in each path."""
    shape, scale, used = (turn[name].to_numpy()[row] for name in ("shape", "scale", "used"))
    tiny = np.finfo(float).tiny
    drawn = np.maximum(rng.exponential(size=row.size), tiny)
    new = scale * drawn ** (1 / shape)
    if not used.any():
        return new
    age = np.maximum(used, tiny)
    grown = np.logaddexp(0.0, np.log(drawn) - shape * np.log(age / scale))
    return np.where(used > 0, age * np.expm1(grown / shape), new)
