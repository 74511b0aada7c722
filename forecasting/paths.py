"""Many simulated futures of one product or one item: what happens on which day."""

from collections.abc import Hashable
from dataclasses import dataclass
from zlib import crc32

import numpy as np

__all__ = ["DailyTotals", "Paths", "no_events", "seeded"]


@dataclass(frozen=True)
class Paths:
    """Events of every future; arrays of shape (paths, most events in one path).

    day: whole days from today (0), infinite where a path has no further event.
    qty: knives or stock units. batches: batches started that day; 0 for use outside batches.
    """

    day: np.ndarray
    qty: np.ndarray
    batches: np.ndarray

    def until(self, last_day: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
        """Quantity and batches up to and including a day: one for all, or of shape (..., paths)."""
        if not self.day.size:
            shape = np.broadcast_shapes(np.shape(last_day), (len(self.day),))
            return (np.broadcast_to(0.0, shape),) * 2
        counted = self.day <= np.expand_dims(last_day, -1)
        return (self.qty * counted).sum(axis=-1), (self.batches * counted).sum(axis=-1)

    def by_day(self, last_days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Quantity and batches up to each of several ascending days; two arrays (days, paths)."""
        if not self.day.size:
            return (np.broadcast_to(0.0, (len(last_days), len(self.day))),) * 2
        slot = np.searchsorted(last_days, self.day.ravel())
        path = np.repeat(np.arange(len(self.day)), self.day.shape[1])
        shape = len(last_days) + 1, len(self.day)
        place = slot * shape[1] + path
        qty, batches = (
            np.bincount(place, values.ravel(), shape[0] * shape[1])
            .reshape(shape)[:-1]
            .cumsum(axis=0)
            for values in (self.qty, self.batches)
        )
        return qty, batches


class DailyTotals:
    """Running totals of many futures at the end of each day: looked up, not summed over events.

    For futures that many ask about, each at days of its own.
    """

    def __init__(self, day: np.ndarray, amount: np.ndarray) -> None:
        """Whole days from today on and what comes on them, both (paths, events), as in Paths."""
        paths = len(day)
        happens = np.isfinite(day)
        last = int(day[happens].max(initial=-1.0))
        path = np.nonzero(happens)[0]
        place = (day[happens].astype(int) + 1) * paths + path
        counted = np.bincount(place, amount[happens], (last + 2) * paths)
        self._total = counted.reshape(-1, paths).cumsum(axis=0)
        self._path = np.arange(paths)

    def until(self, last_day: np.ndarray | float) -> np.ndarray:
        """Total up to and including a day, which is one for all, or of shape (..., paths)."""
        row = np.clip(np.floor(last_day).astype(int) + 1, 0, len(self._total) - 1)
        return self._total.take(row * len(self._path) + self._path)


def no_events(paths: int) -> Paths:
    """Futures in which nothing happens."""
    nothing = np.zeros((paths, 0))
    return Paths(nothing, nothing, nothing)


def seeded(seed: int, kind: str, name: Hashable) -> np.random.Generator:
    """Random numbers that stay the same for a name, whatever else is forecast with it."""
    return np.random.default_rng([seed, crc32(f"{kind} {name}".encode())])
