"""Patterns of parts along a bar, as columns of the integer program."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import islice

from .demand import TIDY, knives_made
from .groups import Group, PieceProgram
from .hand_out import Score
from .knapsack import Profile, all_patterns, best_values, grid_for
from .layout import largest_remnant
from .plan import Bar
from .problem import Answer, CutPiece, Problem, Segment, Strip
from .program import IMPROVES, Priced, Relaxed

MOST_PATTERNS = 1500
MOST_DONORS = 1000
Pattern = tuple[int, ...]


class BarColumns(PieceProgram):
    fixed_first = None

    def __init__(self, problem: Problem) -> None:
        kerf = problem.rules.kerf
        super().__init__(problem, lambda bar: bar.length - bar.trim_first - bar.trim_last >= 0)
        self.needs = [problem.parts[kind].length + kerf for kind in self.kinds]
        self.most = [self.demand[kind] for kind in self.kinds]
        self.rooms = {
            g.number: g.piece.length - g.piece.trim_first - g.piece.trim_last + kerf
            for g in self.groups
        }
        self.grid = grid_for(self.needs, max(self.rooms.values(), default=0))
        self._has_all = self._add_all(full_only=True, most=MOST_PATTERNS)
        self._has_all_donors = False

    @property
    def grid_um(self) -> int:
        return 1 if self.grid.lossless or self._has_all else self.grid.um

    def is_complete(self, aim: str) -> bool:
        return self._has_all and (aim != "remnant_lost" or self._has_all_donors)

    def prepare(self, aim: str, best: Answer, reached: Score) -> None:
        if aim not in ("remnant_lost", TIDY):
            return
        self.include(best)
        for group, pattern in self._as_patterns(best):
            self._add_donor(group, pattern)
        for group in self.groups:
            if group.piece.is_remnant:
                key = ("donor", group.number, (0,) * len(self.kinds))
                self.program.add_column(key, self.uncut_entries(group))
        if aim == "remnant_lost" and self._has_all:
            self._has_all_donors = self._add_all(
                full_only=False, most=MOST_DONORS, more_than=reached.remnant
            )

    def price(self, relaxed: Relaxed, aim: str) -> Priced:
        added, best_donor = False, 0.0
        reduced: dict[int, float] = {}
        for pool in self.pools:
            profile = self._profile(relaxed, pool)
            bound = profile if self.grid.lossless else self._profile(relaxed, pool, safe=False)
            for group in self.in_pool(pool):
                fixed = relaxed.reduced_cost(aim, self.opening_entries(group))
                room = self.rooms[group.number]
                cells = self.grid.room(room)
                if fixed - profile.values[cells] < IMPROVES:
                    added |= self._add(group, profile.pattern(cells, len(self.kinds)))
                most = bound.values[self.grid.room(room, safe=False)]
                reduced[group.number] = fixed - most
                if aim == "remnant_lost":
                    gain, new = self._price_donor(group, profile, relaxed, fixed)
                    best_donor, added = min(best_donor, gain), added | new
        return Priced(added, reduced, best_donor)

    def widen(self, relaxed: Relaxed) -> None:
        for pool in self.pools:
            profile = self._profile(relaxed, pool)
            for group in self.in_pool(pool):
                for pattern in self._forced(group, profile):
                    self._add(group, pattern)

    def include(self, answer: Answer) -> None:
        for group, pattern in self._as_patterns(answer):
            self._add(group, pattern)

    def read(self, values: dict) -> Answer:
        """Pieces cut, from the number of times each pattern is used."""
        bars = {group.number: group.one_by_one() for group in self.groups}
        cut = []
        for key in sorted(key for key in values if key[0] in ("cut", "donor")):
            _, number, pattern = key
            for bar in islice(bars[number], values[key]):
                if any(pattern):
                    cut.append(self._cut(bar, pattern))
        return Answer(tuple(cut), *knives_made(self.problem, values))

    def _profile(self, relaxed: Relaxed, pool: str, safe: bool = True) -> Profile:
        longest = max(self.rooms[group.number] for group in self.in_pool(pool))
        return best_values(
            [self.grid.part(need, safe) for need in self.needs],
            [relaxed.prices[("part", kind, pool)] for kind in self.kinds],
            self.most,
            self.grid.room(longest, safe),
        )

    def _add(self, group: Group, pattern: Pattern) -> bool:
        if not any(pattern):
            return False
        entries = self._entries(group, pattern, self._left(group, pattern))
        return self.program.add_column(("cut", group.number, pattern), entries)

    def _add_donor(self, group: Group, pattern: Pattern) -> bool:
        """The same piece, singled out for its remnant."""
        if not any(pattern):
            return False
        left = self._left(group, pattern)
        entries = self._entries(group, pattern, left) | self.donor_entries(left)
        return self.program.add_column(("donor", group.number, pattern), entries)

    def _entries(self, group: Group, pattern: Pattern, left: int) -> dict:
        parts = zip(self.kinds, pattern, strict=True)
        yields = {("part", kind, group.pool): number for kind, number in parts if number}
        return {**self.opening_entries(group), **yields, TIDY: self.spent(group, left)}

    def _left(self, group: Group, pattern: Pattern) -> int:
        return largest_remnant(self._cut(group.piece, pattern), self.problem.rules)

    def _cut(self, bar: Bar, pattern: Pattern) -> CutPiece:
        segments = tuple(
            Segment(kind, self.problem.parts[kind].length, 0)
            for kind, number in zip(self.kinds, pattern, strict=True)
            for _ in range(number)
        )
        return CutPiece(bar, "x", (Strip(0, segments),))

    def _add_all(self, full_only: bool, most: int, more_than: int = 0) -> bool:
        """Every pattern as a column (or as a donor), unless they are too many."""
        found: list[tuple[Group, Pattern]] = []
        for group in self.groups:
            room = self.rooms[group.number] - (0 if full_only else more_than)
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

    def _as_patterns(self, answer: Answer) -> Iterator[tuple[Group, Pattern]]:
        for piece in answer.cut:
            parts = piece.parts()
            yield self.group_of(piece.stock), tuple(parts[kind] for kind in self.kinds)

    def _forced(self, group: Group, profile: Profile) -> Iterator[Pattern]:
        """The best pattern around one piece of each part."""
        for n, need in enumerate(self.needs):
            room = self.grid.room(self.rooms[group.number]) - self.grid.part(need)
            if room >= 0:
                pattern = list(profile.pattern(room, len(self.kinds)))
                pattern[n] = min(pattern[n] + 1, self.most[n])
                yield tuple(pattern)

    def _price_donor(
        self, group: Group, profile: Profile, relaxed: Relaxed, fixed: float
    ) -> tuple[float, bool]:
        import numpy as np

        cells = np.arange(self.grid.room(self.rooms[group.number]) + 1)
        left = group.piece.length - group.piece.trim_first - cells * self.grid.um
        left = np.where(left >= max(1, self.problem.rules.min_remnant[0]), left, 0)
        costs = fixed - relaxed.prices["donor"] - left / self.scales["remnant_lost"]
        costs = costs - profile.values[: len(cells)]
        if not group.piece.is_remnant:
            costs[: min(len(costs) - 1, self.grid.part(min(self.needs)))] = math.inf
        best = int(np.argmin(costs))
        if costs[best] >= IMPROVES:
            return 0.0, False
        pattern = profile.pattern(best, len(self.kinds))
        return float(costs[best]), self._add_donor(group, pattern)
