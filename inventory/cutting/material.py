"""Bounds that need no solver: what the material at hand cannot exceed."""

from __future__ import annotations

import math

from .plan import Bar, Blank, Part
from .problem import Problem, Stock, size
from .usable import usable_for

MOST_BITS = 50_000_000
REMNANT_STEP = 10  # µm: finer differences are the solver's own rounding


def least_missing(problem: Problem) -> int:
    """No plan misses fewer knives: each part alone cannot be cut more often."""
    wanted = sum(kit.qty for kit in problem.kits)
    return max((wanted - _most_knives(problem, part) for part in problem.parts), default=0)


def _most_knives(problem: Problem, part: str) -> int:
    left = sum(p.count * _yield(problem, part, p) for p in problem.stock)
    knives = 0
    for kit in sorted(problem.kits, key=lambda kit: kit.need.get(part, 0)):
        need = kit.need.get(part, 0)
        made = kit.qty if not need else min(kit.qty, left // need)
        knives += made
        left -= made * need
    return knives


def least_opened(problem: Problem) -> int:
    """No plan that makes every knife opens less of full pieces."""
    demand = problem.demand()
    bounds = [_opened_for_part(problem, part, demand[part]) for part in problem.parts]
    return max([_opened_for_extent(problem), *bounds], default=0)


def _opened_for_part(problem: Problem, part: str, wanted: int) -> int:
    yields = {p.id: _yield(problem, part, p) for p in problem.stock}
    free = sum(p.count * yields[p.id] for p in problem.stock if not problem.opening(p))
    each = [(problem.opening(p), yields[p.id]) for p in problem.stock if problem.opening(p)]
    return _cheapest(wanted - free, each)


def _opened_for_extent(problem: Problem) -> int:
    kerf = problem.rules.kerf
    demand = problem.demand()
    wanted = sum(number * _taken(problem.parts[p], kerf) for p, number in demand.items())
    free = sum(p.count * _room(p, kerf) for p in problem.stock if not problem.opening(p))
    each = [(problem.opening(p), _room(p, kerf)) for p in problem.stock if problem.opening(p)]
    return _cheapest(wanted - free, each)


def _cheapest(wanted: int, each: list[tuple[int, int]]) -> int:
    """Least cost for at least `wanted` at the best ratio, pieces divisible."""
    useful = [(cost, amount) for cost, amount in each if amount > 0]
    if wanted <= 0 or not useful:
        return 0
    cost, amount = min(useful, key=lambda pair: pair[0] / pair[1])
    return -(-wanted * cost // amount)


def _yield(problem: Problem, part: str, piece: Stock) -> int:
    return usable_for(problem.parts[part], piece, problem.rules)


def _taken(part: Part | Blank, kerf: int) -> int:
    if isinstance(part, Part):
        return part.length + kerf
    return (part.along + kerf) * (part.across + kerf)


def _room(piece: Stock, kerf: int) -> int:
    if isinstance(piece, Bar):
        return piece.length - piece.trim_first - piece.trim_last + kerf
    return max(0, piece.x - piece.trim_x + kerf) * max(0, piece.y - piece.trim_y + kerf)


class Sums:
    """Totals that whole pieces can reach, to round a fractional bound up."""

    def __init__(self, amounts: list[tuple[int, int]]) -> None:
        useful = [(amount, count) for amount, count in amounts if amount and count]
        self.step = math.gcd(*(amount for amount, _ in useful)) if useful else 1
        total = sum(amount * count for amount, count in useful) // self.step
        self._reached = _reachable(useful, self.step) if total <= MOST_BITS else None

    def at_least(self, bound: float) -> int:
        """Smallest total not below the bound."""
        steps = max(0, math.ceil(bound / self.step - 1e-6))
        if self._reached is None:
            return steps * self.step
        above = self._reached >> steps
        if not above:
            return steps * self.step
        return (steps + (above & -above).bit_length() - 1) * self.step


def _reachable(amounts: list[tuple[int, int]], step: int) -> int:
    reached = 1
    for amount, count in amounts:
        copies = 1
        while count > 0:
            take = min(copies, count)
            reached |= reached << (take * amount // step)
            count -= take
            copies *= 2
    return reached


def opening_sums(problem: Problem) -> Sums:
    return Sums([(problem.opening(p), p.count) for p in problem.stock])


def buying_sums(problem: Problem) -> Sums:
    most = sum(problem.demand().values())
    return Sums([(problem.price(p), min(p.count, most)) for p in problem.stock])


def largest_left(problem: Problem) -> tuple[int, int]:
    """No remnant can be larger than this; and the step in which remnants are told apart."""
    if not problem.parts:
        return max((size(p) for p in problem.stock if p.is_remnant), default=0), 1
    smallest = min(_taken(part, problem.rules.kerf) for part in problem.parts.values())
    left = [size(p) - (0 if p.is_remnant else smallest) for p in problem.stock]
    flat = any(isinstance(part, Blank) for part in problem.parts.values())
    return max([0, *left]), REMNANT_STEP**2 if flat else REMNANT_STEP
