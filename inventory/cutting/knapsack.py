"""Which parts fill a length best: all ways for a short list, else dynamic programming."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

MOST_CELLS = 60_000


@dataclass(frozen=True)
class Grid:
    """Whole cells for lengths that include one kerf each.

    The largest common divisor of the parts loses nothing. When that gives too many cells, parts
    are rounded up and pieces down (`safe`), or the other way round for a bound.
    """

    um: int
    lossless: bool

    def part(self, need: int, safe: bool = True) -> int:
        return -(-need // self.um) if safe else need // self.um

    def room(self, length: int, safe: bool = True) -> int:
        return length // self.um if safe or self.lossless else -(-length // self.um)


def grid_for(needs: Sequence[int], longest: int) -> Grid:
    """Finest grid for these parts that keeps the longest piece within the cells allowed."""
    divisor = math.gcd(*needs) if needs else 1
    if longest // divisor <= MOST_CELLS:
        return Grid(divisor, lossless=True)
    return Grid(-(-longest // MOST_CELLS), lossless=False)


@dataclass(frozen=True)
class Profile:
    """Best value for every length, and how it is reached (bounded knapsack).

    Source: Bellman's recursion, each bound split into 1, 2, 4, ... copies; Martello and Toth
    (1990), Knapsack Problems, chapter 3: from memory.
    """

    values: Any
    steps: tuple[tuple[int, int, int, Any], ...]

    def pattern(self, cells: int, kinds: int) -> tuple[int, ...]:
        """Copies of each kind that reach the best value within this length."""
        counts = [0] * kinds
        for kind, copies, size, taken in reversed(self.steps):
            if cells >= size and taken[cells - size]:
                counts[kind] += copies
                cells -= size
        return tuple(counts)


def best_values(
    sizes: Sequence[int],
    values: Sequence[float],
    most: Sequence[int],
    room: int,
    kinds: Sequence[int] | None = None,
    start: Profile | None = None,
) -> Profile:
    """Best total value of at most `most[i]` copies of size `sizes[i]` for each length to `room`.

    `start` is a profile to which these kinds are added; `kinds` are their numbers there.
    """
    import numpy as np

    best = np.zeros(room + 1) if start is None else start.values.copy()
    steps = [] if start is None else list(start.steps)
    for kind, size, value, limit in zip(
        range(len(sizes)) if kinds is None else kinds, sizes, values, most, strict=True
    ):
        if value <= 0 or size > room:
            continue
        for copies in _copies(min(limit, room // max(size, 1))):
            total = copies * size
            if total > room:
                break
            gain = best[: room + 1 - total] + copies * value
            taken = gain > best[total:]
            np.copyto(best[total:], gain, where=taken)
            steps.append((kind, copies, total, taken))
    return Profile(best, tuple(steps))


def _copies(limit: int) -> Iterator[int]:
    copies = 1
    while limit > 0:
        yield min(copies, limit)
        limit -= copies
        copies *= 2


def all_patterns(
    sizes: Sequence[int], most: Sequence[int], room: int, full_only: bool
) -> Iterator[tuple[int, ...]]:
    """Every way to fill `room`; with `full_only` those to which nothing can be added."""

    def fill(kind: int, left: int, counts: list[int]) -> Iterator[tuple[int, ...]]:
        if kind == len(sizes):
            if not full_only or not _can_add(sizes, most, left, counts):
                yield tuple(counts)
            return
        for number in range(min(most[kind], left // sizes[kind]), -1, -1):
            yield from fill(kind + 1, left - number * sizes[kind], [*counts, number])

    yield from fill(0, room, [])


def _can_add(sizes: Sequence[int], most: Sequence[int], left: int, counts: Sequence[int]) -> bool:
    return any(
        size <= left and count < limit
        for size, limit, count in zip(sizes, most, counts, strict=True)
    )
