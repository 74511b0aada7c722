"""Fewest full pieces opened: which ones as whole numbers, and a plan that cuts no others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from time import perf_counter
from typing import TYPE_CHECKING

from .opening import SLACK, Choice, Openings, allowed, settle

if TYPE_CHECKING:
    from .search import Aim, Search

SETTLE_SHARE = 0.4
MOST_TURNS = 8


@dataclass(frozen=True)
class OpenFew:
    """The aim "opened" of a search whose columns are generated, until a time."""

    search: Search
    aim: Aim
    openings: Openings
    until: float

    def reach(self) -> int:
        """Improve the search's best answer; the bound that respects whole pieces."""
        dives = self.search.dives_for("opened")
        if dives:
            self.search.dive(self.search.columns.counts, 0, self.until)
        now = perf_counter()
        stop = now + SETTLE_SHARE * (self.until - now)
        least, choice = settle(
            self.openings,
            lambda counts: self._is_short(counts, stop),
            self._is_enough,
            stop,
        )
        if choice is not None and dives:
            self._open_less(least)
        elif choice is not None:
            self._make_from(allowed(self.openings, choice.pieces))
        return self._rounded(least)

    def _rounded(self, cost: float) -> int:
        return self.aim.rounded(cost * self.search.columns.scales[self.aim.name])

    def _is_enough(self, cost: float) -> bool:
        return self.search.meets(self.aim, self._rounded(cost))

    def _is_short(self, counts: Mapping[int, int], until: float) -> bool | None:
        """Are knives missing even with fractions? What shows it is learnt; None: no time left."""
        columns, target = self.search.columns, self.search.reached.missing
        program = columns.program
        with self.search.limited(counts), program.lifted("missing"):
            while perf_counter() < until:
                relaxed = program.relax("missing")
                if relaxed is None:
                    return None
                priced = columns.price(relaxed, "missing")
                if relaxed.value + priced.fall(counts) > target + SLACK:
                    self.openings.learn(relaxed, priced.reduced, counts, target)
                    return True
                if not priced.added or relaxed.value <= target + SLACK:
                    return False
        return None

    def _open_less(self, least: float) -> None:
        """Whole pieces halfway between what failed and the best, until no choice is between."""
        for turn in range(MOST_TURNS):
            failed = least
            while not self._is_enough(least) and perf_counter() < self.until:
                choice = self._between(failed)
                if choice is None:
                    break
                counts = allowed(self.openings, choice.pieces)
                found = self.search.dive(counts, turn, self.until)
                if not (found or self.search.try_quickly(counts, self.until)):
                    failed = choice.cost + SLACK

    def _between(self, failed: float) -> Choice | None:
        """Cheapest choice in the upper half between what failed and the best, else in the lower."""
        scale = self.search.columns.scales[self.aim.name]
        best = self.search.reached.of(self.aim.name) / scale - SLACK
        for least in ((failed + best) / 2, failed):
            choice = self.openings.cheapest(self.until - perf_counter(), least)
            if choice is not None and choice.cost < best:
                return choice
        return None

    def _make_from(self, counts: Mapping[int, int]) -> None:
        """Look thoroughly for a plan within these pieces."""
        stop = perf_counter() + (self.until - perf_counter()) / 2
        if not self.search.columns.is_complete(self.aim.name):
            with self.search.limited(counts):
                enough = perf_counter() + (stop - perf_counter()) / 3
                self.search.fill_with_little_waste(enough)
        self.search.solve_within(counts, stop, self.search.nodes("missing"))
