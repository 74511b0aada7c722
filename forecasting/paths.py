"""Many simulated futures of one product or one item: what happens on which day."""

from dataclasses import dataclass

import numpy as np

__all__ = ["Paths", "no_events"]


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
        """Quantity and batches up to each of several days; two arrays (paths, days)."""
        columns = [self.until(last_day) for last_day in last_days]
        qty, batches = zip(*columns, strict=True)
        return np.column_stack(qty), np.column_stack(batches)


def no_events(paths: int) -> Paths:
    """Futures in which nothing happens."""
    nothing = np.zeros((paths, 0))
    return Paths(nothing, nothing, nothing)
