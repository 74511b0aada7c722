"""Patterns of parts along a bar, as columns of the integer program."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from .demand import TIDY, USED, demand_program, knives_made
from .hand_out import Score
from .knapsack import Profile, all_patterns, best_values, grid_for
from .layout import largest_remnant
from .plan import Bar
from .problem import Answer, CutPiece, Problem, Segment, Strip
from .program import Priced, Relaxed

MOST_PATTERNS = 1500
MOST_DONORS = 1000
Pattern = tuple[int, ...]


@dataclass(frozen=True)
class Group:
    """Bars that are cut alike. `room`: usable length and one kerf."""

    number: int
    pool: str
    room: int
    bars: tuple[Bar, ...]
    count: int

    @property
    def bar(self) -> Bar:
        return self.bars[0]


class BarColumns:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.kinds = tuple(problem.parts)
        self.needs = [problem.parts[kind].length + problem.rules.kerf for kind in self.kinds]
        demand = problem.demand()
        self.most = [demand[kind] for kind in self.kinds]
        self.groups = _groups(problem, sum(self.most))
        self.grid = grid_for(self.needs, max((g.room for g in self.groups), default=0))
        longest = max((group.bar.length for group in self.groups), default=1)
        dearest = max((problem.price(group.bar) for group in self.groups), default=1)
        counted = max((problem.opening(group.bar) for group in self.groups), default=1)
        self.scales = {
            "missing": 1,
            "bought": dearest or 1,
            "opened": counted or 1,
            "remnant_lost": longest or 1,
            USED: longest or 1,
        }
        self.program = demand_program(problem)
        for group in self.groups:
            self.program.add_row(("count", group.number), upper=group.count)
        self.counts = {group.number: group.count for group in self.groups}
        self.openings = {
            group.number: problem.opening(group.bar) / self.scales["opened"]
            for group in self.groups
        }
        self._has_all = self._add_all(full_only=True)
        self._has_all_donors = False

    @property
    def grid_um(self) -> int:
        return 1 if self.grid.lossless or self._has_all else self.grid.um

    def is_complete(self, aim: str) -> bool:
        return self._has_all and (aim != "remnant_lost" or self._has_all_donors)

    def prepare(self, aim: str, best: Answer, reached: Score) -> None:
        if aim in ("remnant_lost", TIDY):
            self._include_donors(best)
        if aim == "remnant_lost" and self._has_all:
            self._has_all_donors = self._add_all(full_only=False, more_than=reached.remnant)

    def price(self, relaxed: Relaxed, aim: str) -> Priced:
        added, best_donor = False, 0.0
        reduced: dict[int, float] = {}
        for pool in sorted({group.pool for group in self.groups}):
            profile = self._profile(relaxed, pool)
            bound = profile if self.grid.lossless else self._profile(relaxed, pool, safe=False)
            for group in self._in_pool(pool):
                fixed = relaxed.reduced_cost(aim, self._entries(group, ()))
                cells = self.grid.room(group.room)
                if fixed - profile.values[cells] < -1e-7:
                    pattern = profile.pattern(cells, len(self.kinds))
                    added |= self._add(group, pattern)
                most = bound.values[self.grid.room(group.room, safe=False)]
                reduced[group.number] = fixed - most
                if aim == "remnant_lost":
                    gain, new = self._price_donor(group, profile, relaxed, fixed)
                    best_donor, added = min(best_donor, gain), added | new
        return Priced(added, reduced, best_donor)

    def widen(self, relaxed: Relaxed) -> None:
        for pool in sorted({group.pool for group in self.groups}):
            profile = self._profile(relaxed, pool)
            for group in self._in_pool(pool):
                for pattern in self._forced(group, profile):
                    self._add(group, pattern)

    def include(self, answer: Answer) -> None:
        for group, pattern in self._as_patterns(answer):
            self._add(group, pattern)

    def read(self, values: dict) -> Answer:
        """Pieces cut, from the number of times each pattern is used."""
        bars = {group.number: _one_by_one(group) for group in self.groups}
        used = sorted(key for key in values if key[0] in ("cut", "donor"))
        cut = []
        for key in used:
            _, number, pattern = key
            for bar in islice(bars[number], values[key]):
                if any(pattern):
                    cut.append(self._cut(bar, pattern))
        return Answer(tuple(cut), *knives_made(self.problem, values))

    def _in_pool(self, pool: str) -> Iterator[Group]:
        return (group for group in self.groups if group.pool == pool)

    def _profile(self, relaxed: Relaxed, pool: str, safe: bool = True) -> Profile:
        longest = max(group.room for group in self._in_pool(pool))
        return best_values(
            [self.grid.part(need, safe) for need in self.needs],
            [relaxed.prices[("part", kind, pool)] for kind in self.kinds],
            self.most,
            self.grid.room(longest, safe),
        )

    def _entries(self, group: Group, pattern: Pattern) -> dict:
        entries = {("count", group.number): 1}
        entries["bought"] = self.problem.price(group.bar) / self.scales["bought"]
        entries[USED] = group.bar.length / self.scales[USED]
        entries["opened"] = self.problem.opening(group.bar) / self.scales["opened"]
        for kind, number in zip(self.kinds, pattern, strict=False):
            if number:
                entries[("part", kind, group.pool)] = number
        return entries

    def _add(self, group: Group, pattern: Pattern) -> bool:
        if not any(pattern):
            return False
        entries = self._entries(group, pattern)
        entries[TIDY] = self._spent(group, self._left(group, pattern))
        return self.program.add_column(("cut", group.number, pattern), entries)

    def _add_donor(self, group: Group, pattern: Pattern) -> bool:
        """The same piece singled out; an uncut remnant is its own largest remnant."""
        left = self._left(group, pattern)
        if not any(pattern) and not group.bar.is_remnant:
            return False
        entries = self._entries(group, pattern)
        if not any(pattern):
            entries["bought"] = entries["opened"] = entries[USED] = 0
            left = group.bar.length
        entries |= {
            TIDY: self._spent(group, left),
            "donor": 1,
            "remnant_lost": -left / self.scales["remnant_lost"],
        }
        return self.program.add_column(("donor", group.number, pattern), entries)

    def _left(self, group: Group, pattern: Pattern) -> int:
        return largest_remnant(self._cut(group.bar, pattern), self.problem.rules)

    def _spent(self, group: Group, left: int) -> float:
        """Squares keep long pieces long: two halves are worth half of one whole."""
        scale = self.scales["remnant_lost"]
        return (group.bar.length / scale) ** 2 - (left / scale) ** 2 + 1e-4

    def _cut(self, bar: Bar, pattern: Pattern) -> CutPiece:
        segments = tuple(
            Segment(kind, self.problem.parts[kind].length, 0)
            for kind, number in zip(self.kinds, pattern, strict=True)
            for _ in range(number)
        )
        return CutPiece(bar, "x", (Strip(0, segments),))

    def _add_all(self, full_only: bool, more_than: int = -1) -> bool:
        """Every pattern as a column (or as a donor), unless they are too many."""
        most = MOST_PATTERNS if full_only else MOST_DONORS
        found: list[tuple[Group, Pattern]] = []
        for group in self.groups:
            room = group.room - (0 if full_only else more_than)
            patterns = all_patterns(self.needs, self.most, room, full_only)
            found += ((group, p) for p in islice(patterns, most + 1 - len(found)))
            if len(found) > most:
                return False
        for group, pattern in found:
            if full_only:
                self._add(group, pattern)
            else:
                self._add_donor(group, pattern)
        return True

    def _include_donors(self, answer: Answer) -> None:
        for group, pattern in self._as_patterns(answer):
            self._add_donor(group, pattern)
        for group in self.groups:
            self._add_donor(group, (0,) * len(self.kinds))

    def _as_patterns(self, answer: Answer) -> Iterator[tuple[Group, Pattern]]:
        group_of = {bar.id: group for group in self.groups for bar in group.bars}
        for piece in answer.cut:
            parts = piece.parts()
            yield group_of[piece.stock.id], tuple(parts[kind] for kind in self.kinds)

    def _forced(self, group: Group, profile: Profile) -> Iterator[Pattern]:
        """The best pattern around one piece of each part."""
        for n, need in enumerate(self.needs):
            room = self.grid.room(group.room) - self.grid.part(need)
            if room >= 0:
                pattern = list(profile.pattern(room, len(self.kinds)))
                pattern[n] = min(pattern[n] + 1, self.most[n])
                yield tuple(pattern)

    def _price_donor(
        self, group: Group, profile: Profile, relaxed: Relaxed, fixed: float
    ) -> tuple[float, bool]:
        import numpy as np

        scale = self.scales["remnant_lost"]
        cells = np.arange(self.grid.room(group.room) + 1)
        left = group.bar.length - group.bar.trim_first - cells * self.grid.um
        left = np.where(left >= max(1, self.problem.rules.min_remnant[0]), left, 0)
        fixed = fixed - relaxed.prices["donor"]
        costs = fixed - profile.values[: len(cells)] - left / scale
        if not group.bar.is_remnant:
            costs[: min(len(costs) - 1, self.grid.part(min(self.needs)))] = math.inf
        best = int(np.argmin(costs))
        if costs[best] >= -1e-7:
            return 0.0, False
        pattern = profile.pattern(best, len(self.kinds))
        return float(costs[best]), self._add_donor(group, pattern)


def _groups(problem: Problem, most: int) -> list[Group]:
    alike: dict[tuple, list[Bar]] = {}
    for bar in problem.stock:
        traits = (bar.length, bar.trim_first, bar.trim_last, bar.is_remnant, bar.purchasable)
        alike.setdefault((*traits, bar.cost, problem.pool(bar)), []).append(bar)
    groups = []
    for bars in alike.values():
        bar = bars[0]
        room = bar.length - bar.trim_first - bar.trim_last + problem.rules.kerf
        count = min(sum(b.count for b in bars), most)
        if room >= 0:
            groups.append(Group(len(groups), problem.pool(bar), room, tuple(bars), count))
    return groups


def _one_by_one(group: Group) -> Iterator[Bar]:
    return (bar for bar in group.bars for _ in range(bar.count))
