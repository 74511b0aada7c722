"""Many simulated futures of one product or one item: what happens on which day."""

from collections.abc import Hashable
from dataclasses import dataclass
from zlib import crc32

import numpy as np

__all__ = ["Paths", "no_events", "seeded"]


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
        """Quantity and batches up to and including a day; one day for all, or one per path."""
        counted = self.day <= np.reshape(last_day, (-1, 1))
        return (self.qty * counted).sum(axis=1), (self.batches * counted).sum(axis=1)

    def by_day(self, last_days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Quantity and batches up to each of several ascending days; two arrays (days, paths)."""
        if not self.day.size:
            nothing = np.zeros((len(last_days), len(self.day)))
            return nothing, nothing.copy()
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


def no_events(paths: int) -> Paths:
    """Futures in which nothing happens."""
    nothing = np.zeros((paths, 0))
    return Paths(nothing, nothing, nothing)


def seeded(seed: int, kind: str, name: Hashable) -> np.random.Generator:
    """Random numbers that stay the same for a name, whatever else is forecast with it."""
    return np.random.default_rng([seed, crc32(f"{kind} {name}".encode())])
