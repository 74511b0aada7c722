"""Which full pieces to open, as whole numbers: bound first, then a plan with just these.

At fixed row prices a piece of group g is worth at most w_g (its best way to be cut), and all
pieces together must be worth what the knives need: sum of w_g · y_g >= need for whole y. The
cheapest y under the rows known so far is a bound that respects whole pieces. If the knives
cannot be made from it even with fractions, the prices that show so give the next row.

Source: Benders (1962), Partitioning procedures for solving mixed-variables programming problems,
Numerische Mathematik 4: from memory; here with columns generated inside.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from time import perf_counter

from .program import Program, Relaxed

SLACK = 1e-6
CLOSE = 5e-4


@dataclass(frozen=True)
class Choice:
    """Whole pieces by group, their cost, and the bound below which no choice costs."""

    pieces: Mapping[int, int]
    cost: float
    least: float


@dataclass
class Openings:
    """Groups of pieces with their number and cost, and the rows that bind them."""

    costs: Mapping[int, float]
    counts: Mapping[int, int]
    covers: list[tuple[dict[int, float], float]] = field(default_factory=list)

    def learn(
        self,
        relaxed: Relaxed,
        reduced: Mapping[int, float],
        limits: Mapping[int, int],
        target: float | None = None,
    ) -> None:
        """Row from the least reduced cost of each group at these prices.

        Without `target` the aim was the cost of opening itself; with it, another aim that has
        to stay at or below the target.
        """
        costs = self.costs if target is None else dict.fromkeys(self.costs, 0.0)
        prices = {g: relaxed.prices[("count", g)] for g in self.costs}
        need = relaxed.value - sum(prices[g] * limits[g] for g in prices) - (target or 0.0)
        self.covers.append(({g: costs[g] - reduced[g] - prices[g] for g in prices}, need))

    def cheapest(self, seconds: float, least: float = 0.0) -> Choice | None:
        """Cheapest whole pieces under all rows that cost at least this; None: none in time."""
        program = Program()
        program.add_row("cost", lower=least)
        for n, (_, need) in enumerate(self.covers):
            program.add_row(n, lower=need - SLACK * max(1.0, abs(need)))
        for group, count in self.counts.items():
            worth = {n: row[group] for n, (row, _) in enumerate(self.covers)}
            entries = {"cost": self.costs[group], **worth}
            program.add_column(group, entries, upper=count)
        solved = program.solve("cost", seconds, nodes=5000, gap=CLOSE)
        if solved.values is None:
            return None
        whole = {group: solved.values.get(group, 0) for group in self.counts}
        return Choice(whole, self.cost(whole), solved.bound)

    def cost(self, whole: Mapping[int, int]) -> float:
        return sum(self.costs[group] * number for group, number in whole.items())


def allowed(openings: Openings, whole: Mapping[int, int]) -> dict[int, int]:
    """Pieces that open for nothing stay free, the others are limited to the choice."""
    return {g: whole[g] if openings.costs[g] else n for g, n in openings.counts.items()}


def settle(
    openings: Openings,
    is_short: Callable[[Mapping[int, int]], bool | None],
    enough: Callable[[float], bool],
    until: float,
) -> tuple[float, Choice | None]:
    """Best bound, and the choice that comes near it if fractions can make the knives from it."""
    bound = 0.0
    while perf_counter() < until:
        choice = openings.cheapest(max(0.05, (until - perf_counter()) / 3))
        if choice is None:
            break
        bound = max(bound, choice.least)
        if enough(bound):
            break
        short = is_short(allowed(openings, choice.pieces))
        if short is None:
            break
        if not short:
            return bound, choice
    return bound, None
