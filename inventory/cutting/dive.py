"""Whole numbers from fractions: fix the way that is nearly whole, look again, fix the next.

Columns are generated between the steps, so that what is left is cut by ways made for it. A step
that leads nowhere is taken back and its way used no further; the caller has other means when
nothing is found.

Source: sequential residual heuristics of Wäscher and Gau (1996), Heuristics for the integer
one-dimensional cutting stock problem, OR Spektrum 18: from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from time import perf_counter

from .columns import Columns
from .demand import SPARING
from .program import Key, Relaxed

MOST_ROUNDS = 2
MOST_TAKEN_BACK = 2
NEARLY = 1e-3


@dataclass
class Dive:
    """One way down. `turn`: the step, from 1, that takes the second best way; 0: none does."""

    columns: Columns
    missing: int
    turn: int
    until: float
    steps: int = 0
    taken_back: int = 0
    last: tuple[Key, int] | None = None

    def reach(self) -> bool:
        """Fix ways in the program until none is fractional, with no more than `missing` knives
        missing; False when that leads nowhere in time."""
        while True:
            relaxed = self._relax()
            if relaxed is None or _missing(relaxed) > self.missing + NEARLY:
                if not self._take_back():
                    return False
                continue
            ways = self._not_yet_fixed(relaxed)
            if not ways:
                return True
            self._fix(ways)

    def _relax(self) -> Relaxed | None:
        """Fractional optimum with ways made for what is left."""
        program = self.columns.program
        for _ in range(MOST_ROUNDS):
            relaxed = program.relax(SPARING)
            if relaxed is None or not self.columns.price(relaxed, SPARING).added:
                return relaxed
        return program.relax(SPARING)

    def _take_back(self) -> bool:
        if self.last is None or self.taken_back == MOST_TAKEN_BACK or perf_counter() > self.until:
            return False
        way, before = self.last
        self.columns.program.use(way, least=before, most=before)
        self.taken_back, self.last = self.taken_back + 1, None
        return True

    def _not_yet_fixed(self, relaxed: Relaxed) -> dict[Key, float]:
        program = self.columns.program
        return {
            way: number
            for way, number in relaxed.columns.items()
            if way[0] == self.columns.fixed_first and number > program.least_use(way) + NEARLY
        }

    def _fix(self, ways: dict[Key, float]) -> None:
        """All that are whole already, else the one nearest to its next whole number."""
        program = self.columns.program
        whole = {way: round(n) for way, n in ways.items() if abs(n - round(n)) < NEARLY}
        for way, number in whole.items():
            program.use(way, least=number)
        if not whole:
            self.steps += 1
            ranked = sorted(ways, key=lambda way: (math.floor(ways[way]) - ways[way], repr(way)))
            way = ranked[1] if self.steps == self.turn and len(ranked) > 1 else ranked[0]
            self.last = way, program.least_use(way)
            program.use(way, least=math.floor(ways[way]) + 1)
        else:
            self.last = None


def _missing(relaxed: Relaxed) -> float:
    return sum(number for way, number in relaxed.columns.items() if way[0] == "missing")
