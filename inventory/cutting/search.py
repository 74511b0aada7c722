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
from typing import Protocol

from .compact import compacted
from .demand import TIDY, USED
from .hand_out import Score, hand_out, score
from .opening import SLACK, Openings, allowed, settle
from .plan import StageResult
from .problem import Answer, Problem
from .program import Priced, Program, Relaxed, load_solver

NODE_LIMITS = {"missing": 2000, "bought": 2000, "opened": 2000, "remnant_lost": 100, TIDY: 20}
ENRICH_SHARE = 0.3
OPENINGS_SHARE = 0.5
UNBOUNDED = -(10**30)


class Columns(Protocol):
    """Ways to cut the pieces of one material, found while the program grows."""

    program: Program
    scales: dict[str, float]
    counts: dict[int, int]
    openings: dict[int, float]
    grid_um: int

    def is_complete(self, aim: str) -> bool:
        """Every way that can matter for this aim is in the program."""

    def prepare(self, aim: str, best: Answer, reached: Score) -> None:
        """Add the ways an aim needs from the start."""

    def price(self, relaxed: Relaxed, aim: str) -> Priced:
        """Add ways that lower the fractional optimum."""

    def widen(self, relaxed: Relaxed) -> None:
        """Add ways that whole numbers may need."""

    def include(self, answer: Answer) -> None:
        """Add the ways used in a known answer."""

    def read(self, values: dict) -> Answer: ...


@dataclass(frozen=True)
class Aim:
    """What is made small, its bound from material alone, the least difference that matters."""

    name: str
    least: int
    step: int
    share: float
    round_up: Callable[[float], int] | None = None

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
        if not self._meets(aim, bound) and started < self.deadline:
            self.columns.prepare(aim.name, self.best, self.reached)
            now = perf_counter()
            until = now + aim.share * max(0.0, self.deadline - now)
            bound = max(bound, self._improve(aim, bound, until))
        value = self.reached.of(aim.name)
        bound = value if self._meets(aim, bound) else bound
        self._kept.append((aim, value))
        if self.is_solving:
            _keep(self.columns, aim, value)
        return StageResult(aim.name, value, bound, value == bound, perf_counter() - started)

    def tidy(self, seconds: float) -> None:
        """Among equal plans, one that keeps long remnants long and cuts few pieces."""
        seconds = min(seconds, self.deadline - perf_counter())
        if not self.is_solving or seconds <= 0:
            return
        self.columns.prepare(TIDY, self.best, self.reached)
        solved = self.columns.program.solve(TIDY, seconds, self._nodes(TIDY))
        if solved.values is not None:
            self._take(self.columns.read(solved.values), even_if_equal=True)
            self.push_together()

    def push_together(self) -> None:
        """Larger remnants from the same pieces."""
        self.offer(compacted(self.problem, self.best))

    def offer(self, answer: Answer) -> None:
        """Take an answer from elsewhere if it is better."""
        reached = score(self.problem, answer)
        if reached < self.reached:
            self.best, self.reached = answer, reached

    def _nodes(self, aim: str) -> int:
        return self.problem.rules.node_limit or NODE_LIMITS[aim]

    def _meets(self, aim: Aim, bound: int) -> bool:
        return self.reached.of(aim.name) - bound < aim.step

    def _improve(self, aim: Aim, bound: int, until: float) -> int:
        bound = max(bound, self._fractional_bound(aim, until))
        if self._meets(aim, bound) or perf_counter() > until:
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
            if not priced.added or self._meets(aim, bound):
                break
        if aim.name == "opened" and not self._meets(aim, bound):
            bound = max(bound, self._whole_openings(aim, openings, until))
        return bound

    def _whole_openings(self, aim: Aim, openings: Openings, until: float) -> int:
        """Bound from whole pieces, and a plan that opens just these if there is one."""
        scale = self.columns.scales[aim.name]
        stop = perf_counter() + OPENINGS_SHARE * (until - perf_counter())

        def is_short(counts: Mapping[int, int]) -> bool | None:
            return self._is_short(openings, counts, stop)

        def enough(value: float) -> bool:
            return self._meets(aim, aim.rounded(value * scale))

        value, choice = settle(openings, is_short, enough, stop)
        if choice is not None:
            self._make_from(allowed(openings, choice), until)
        return aim.rounded(value * scale)

    def _is_short(self, openings: Openings, counts: Mapping[int, int], until: float) -> bool | None:
        """Are knives missing even with fractions? What shows it is learnt; None: no time left."""
        program, target = self.columns.program, self.reached.missing
        with self._limited(counts), program.lifted("missing"):
            while perf_counter() < until:
                relaxed = program.relax("missing")
                if relaxed is None:
                    return None
                priced = self.columns.price(relaxed, "missing")
                if relaxed.value + priced.fall(counts) > target + SLACK:
                    openings.learn(relaxed, priced.reduced, counts, target)
                    return True
                if not priced.added or relaxed.value <= target + SLACK:
                    return False
        return None

    def _make_from(self, counts: Mapping[int, int], until: float) -> None:
        """Look for a plan within these pieces."""
        stop = perf_counter() + (until - perf_counter()) / 2
        with self._limited(counts):
            if not self.columns.is_complete("opened"):
                self._fill_with_little_waste(perf_counter() + (stop - perf_counter()) / 3)
            solved = self.columns.program.solve(
                "missing", stop - perf_counter(), self._nodes("missing")
            )
        if solved.values is not None:
            self._take(self.columns.read(solved.values))

    @contextmanager
    def _limited(self, counts: Mapping[int, int]) -> Iterator[None]:
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
        self._fill_with_little_waste(perf_counter() + ENRICH_SHARE * (until - perf_counter()))
        program.limit(aim.name, *before)

    def _fill_with_little_waste(self, until: float) -> None:
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
        solved = program.solve(aim.name, until - perf_counter(), self._nodes(aim.name))
        if solved.values is not None:
            self._take(self.columns.read(solved.values))
        if solved.exhausted and self.columns.is_complete(aim.name):
            return self.reached.of(aim.name)
        return bound

    def _take(self, answer: Answer, even_if_equal: bool = False) -> None:
        answer = hand_out(self.problem, answer)
        reached = score(self.problem, answer)
        if reached < self.reached or (even_if_equal and reached == self.reached):
            self.best, self.reached = answer, reached
            self.columns.include(answer)


def _keep(columns: Columns, aim: Aim, value: int) -> None:
    """Exactly: a quarter of a bar to spare would already hide that a bar is missing."""
    columns.program.limit(aim.name, upper=value / columns.scales[aim.name] + SLACK)
