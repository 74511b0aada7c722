"""From the plan made by hand to the best one, aim after aim.

Each aim: a bound from material alone, then column generation to the optimum with fractions, then
whole numbers over the columns found. What an aim reached becomes a row that the next ones keep
(lexicographic, in separate solves: weights in one sum would drown the later aims).

Source: Gilmore and Gomory (1961, 1963), A linear programming approach to the cutting-stock
problem, parts I and II, Operations Research 9 and 11; a bound before the columns are complete:
Lasdon (1970), Optimization Theory for Large Systems: both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from time import perf_counter

from .columns import Columns
from .compact import compacted
from .demand import SPARING, TIDY, USED
from .dive import Dive
from .hand_out import hand_out, score
from .open_few import OpenFew
from .opening import SLACK, Openings
from .plan import StageResult
from .problem import Answer, Problem
from .program import load_solver

NODE_LIMITS = {"missing": 2000, "bought": 2000, "opened": 2000, "remnant_lost": 100, TIDY: 20}
ENRICH_SHARE = 0.3
DIVES_SHARE = 0.5
MOST_TURNS = 8
QUICK_NODES = 150
UNBOUNDED = -(10**30)


@dataclass(frozen=True)
class Aim:
    """What is made small, its bound from material alone, the least difference that matters.

    That is `step`, or `close` times the value if that is more.
    """

    name: str
    least: int
    step: int
    share: float
    round_up: Callable[[float], int] | None = None
    close: float = 0.0

    def rounded(self, bound: float) -> int:
        """Smallest value that whole pieces can reach from a fractional bound."""
        slack = 1e-6 * max(self.step, abs(bound))
        if self.round_up:
            return self.round_up(bound - slack)
        return math.ceil(bound - slack)


@dataclass
class Search:
    """The best answer so far, and the clock."""

    problem: Problem
    columns_of: Callable[[Problem], Columns]
    best: Answer
    deadline: float
    _kept: list[tuple[Aim, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.reached = score(self.problem, self.best)

    @property
    def grid_um(self) -> int:
        return self.columns.grid_um if self.is_solving else 1

    @property
    def is_solving(self) -> bool:
        return "columns" in self.__dict__

    @cached_property
    def columns(self) -> Columns:
        """Built only when the plan made by hand leaves something to improve.

        Loading the solver, once in a process, is not taken from the time limit.
        """
        started = perf_counter()
        load_solver()
        self.deadline += perf_counter() - started
        columns = self.columns_of(self.problem)
        columns.include(self.best)
        for aim, value in self._kept:
            _keep(columns, aim, value)
        return columns

    def reach(self, aim: Aim) -> StageResult:
        """Improve one aim as far as its bound or its share of the time left allows."""
        started = perf_counter()
        bound = aim.least
        if not self.meets(aim, bound) and started < self.deadline:
            self.columns.prepare(aim.name, self.best, self.reached)
            now = perf_counter()
            until = now + aim.share * max(0.0, self.deadline - now)
            bound = max(bound, self._improve(aim, bound, until))
        value, proven = self.reached.of(aim.name), self.meets(aim, bound)
        bound = value if value - bound < aim.step else bound
        self._kept.append((aim, value))
        if self.is_solving:
            _keep(self.columns, aim, value)
        return StageResult(aim.name, value, bound, proven, perf_counter() - started)

    def tidy(self, seconds: float) -> None:
        """Among equal plans, one that keeps long remnants long and cuts few pieces."""
        seconds = min(seconds, self.deadline - perf_counter())
        if not self.is_solving or seconds <= 0:
            return
        self.columns.prepare(TIDY, self.best, self.reached)
        solved = self.columns.program.solve(TIDY, seconds, self.nodes(TIDY))
        if solved.values is not None:
            self.take(self.columns.read(solved.values), even_if_equal=True)
            self.push_together()

    def push_together(self) -> None:
        """Larger remnants from the same pieces."""
        self.offer(compacted(self.problem, self.best))

    def offer(self, answer: Answer) -> None:
        """Take an answer from elsewhere if it is better."""
        reached = score(self.problem, answer)
        if reached < self.reached:
            self.best, self.reached = answer, reached

    def nodes(self, aim: str) -> int:
        """Where the solver stops, whatever the clock says."""
        return self.problem.rules.node_limit or NODE_LIMITS[aim]

    def meets(self, aim: Aim, bound: int) -> bool:
        """The best answer is as good as this bound, or close enough."""
        value = self.reached.of(aim.name)
        return value - bound < max(aim.step, aim.close * value)

    def _improve(self, aim: Aim, bound: int, until: float) -> int:
        bound = max(bound, self._fractional_bound(aim, until))
        if aim.name == "missing" and self.dives_for("missing"):
            self._miss_fewer(bound, perf_counter() + DIVES_SHARE * (until - perf_counter()))
        if self.meets(aim, bound) or perf_counter() > until:
            return bound
        if not self.columns.is_complete(aim.name):
            self._enrich(aim, bound, until)
        return self._whole_numbers(aim, bound, until)

    def _fractional_bound(self, aim: Aim, until: float) -> int:
        """Generate columns until none helps; a bound holds whenever it stops."""
        columns, bound = self.columns, UNBOUNDED
        openings = Openings(columns.openings, columns.counts)
        while perf_counter() < until:
            relaxed = columns.program.relax(aim.name)
            if relaxed is None:
                return bound
            priced = columns.price(relaxed, aim.name)
            value = (relaxed.value + priced.fall(columns.counts)) * columns.scales[aim.name]
            if math.isfinite(value):
                bound = max(bound, aim.rounded(value))
            if aim.name == "opened":
                openings.learn(relaxed, priced.reduced, columns.counts)
            if not priced.added or self.meets(aim, bound):
                break
        if aim.name == "opened" and not self.meets(aim, bound):
            bound = max(bound, OpenFew(self, aim, openings, until).reach())
        return bound

    def _miss_fewer(self, bound: int, until: float) -> None:
        """Dive for one knife more; what several dives found together may hold it as well."""
        counts = self.columns.counts
        for turn in range(MOST_TURNS):
            while self.reached.missing > bound and perf_counter() < until:
                if not (self.dive(counts, turn, until, fewer=1) or self.try_quickly(counts, until)):
                    break

    def try_quickly(self, counts: Mapping[int, int], until: float) -> bool:
        """Whole numbers over the ways found so far, within these pieces."""
        before = self.reached
        self.solve_within(counts, until, QUICK_NODES)
        return self.reached < before

    def solve_within(self, counts: Mapping[int, int], until: float, nodes: int) -> None:
        """Fewest missing over the ways found so far, within these pieces."""
        with self.limited(counts):
            solved = self.columns.program.solve("missing", until - perf_counter(), nodes)
        if solved.values is not None:
            self.take(self.columns.read(solved.values))

    def dives_for(self, aim: str) -> bool:
        """Diving pays where the program alone rarely finds whole numbers."""
        return self.columns.fixed_first is not None and not self.columns.is_complete(aim)

    def dive(self, counts: Mapping[int, int], turn: int, until: float, fewer: int = 0) -> bool:
        """Look for a better plan within these pieces."""
        before = self.reached
        program = self.columns.program
        with self.limited(counts), program.lifted("missing"), program.fixing():
            if not Dive(self.columns, before.missing - fewer, turn, until).reach():
                return False
            solved = program.solve(SPARING, until - perf_counter(), self.nodes(TIDY))
            if solved.values is not None:
                self.take(self.columns.read(solved.values))
        return self.reached < before

    @contextmanager
    def limited(self, counts: Mapping[int, int]) -> Iterator[None]:
        """Only so many pieces of each group for a while."""
        program = self.columns.program
        for group, number in counts.items():
            program.limit(("count", group), upper=number)
        try:
            yield
        finally:
            for group, number in self.columns.counts.items():
                program.limit(("count", group), upper=number)

    def _enrich(self, aim: Aim, bound: int, until: float) -> None:
        """Ways that meet the bound with little waste: whole numbers are found among them."""
        program, scale = self.columns.program, self.columns.scales[aim.name]
        before = program.limits(aim.name)
        program.limit(aim.name, upper=max(bound, aim.least) / scale + SLACK)
        self.fill_with_little_waste(perf_counter() + ENRICH_SHARE * (until - perf_counter()))
        program.limit(aim.name, *before)

    def fill_with_little_waste(self, until: float) -> None:
        """Add ways that make the knives from the least material."""
        while perf_counter() < until:
            relaxed = self.columns.program.relax(USED)
            if relaxed is None:
                return
            priced = self.columns.price(relaxed, USED)
            self.columns.widen(relaxed)
            if not priced.added:
                return

    def _whole_numbers(self, aim: Aim, bound: int, until: float) -> int:
        """Ask for strictly better than the best so far, but not beyond the bound."""
        program, scale = self.columns.program, self.columns.scales[aim.name]
        value = self.reached.of(aim.name)
        program.limit(aim.name, (bound - aim.step / 4) / scale, (value - aim.step / 2) / scale)
        solved = program.solve(aim.name, until - perf_counter(), self.nodes(aim.name))
        if solved.values is not None:
            self.take(self.columns.read(solved.values))
        if solved.exhausted and self.columns.is_complete(aim.name):
            return self.reached.of(aim.name)
        return bound

    def take(self, answer: Answer, even_if_equal: bool = False) -> None:
        """Take what the program found if it is better."""
        answer = hand_out(self.problem, answer)
        reached = score(self.problem, answer)
        if reached < self.reached or (even_if_equal and reached == self.reached):
            self.best, self.reached = answer, reached
            self.columns.include(answer)


def _keep(columns: Columns, aim: Aim, value: int) -> None:
    """Exactly: a quarter of a bar to spare would already hide that a bar is missing."""
    columns.program.limit(aim.name, upper=value / columns.scales[aim.name] + SLACK)
