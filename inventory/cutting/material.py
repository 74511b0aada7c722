"""Bounds that need no solver: what the material at hand cannot exceed."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable

from .hand_out import Score
from .plan import Bar, Blank, Kit, Part
from .problem import Problem, Stock, size
from .usable import usable_for

MOST_BITS = 50_000_000
MOST_LISTED = 100_000
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
        steps = [(amount // self.step, count) for amount, count in useful]
        self._next: Callable[[int], int | None] = lambda least: least
        if math.prod(count + 1 for _, count in steps) <= MOST_LISTED:
            self._next = _next_listed(steps)
        elif sum(amount * count for amount, count in steps) <= MOST_BITS:
            self._next = _next_marked(steps)

    def at_least(self, bound: float) -> int:
        """Smallest total not below the bound."""
        least = max(0, math.ceil(bound / self.step - 1e-6))
        reached = self._next(least)
        return (least if reached is None else reached) * self.step


def _next_listed(amounts: list[tuple[int, int]]) -> Callable[[int], int | None]:
    """Few combinations: all their totals in a list."""
    totals = {0}
    for amount, count in amounts:
        totals = {total + n * amount for total in totals for n in range(count + 1)}
    listed = sorted(totals)

    def next_total(least: int) -> int | None:
        place = bisect_left(listed, least)
        return listed[place] if place < len(listed) else None

    return next_total


def _next_marked(amounts: list[tuple[int, int]]) -> Callable[[int], int | None]:
    """Many combinations of round amounts: a bit for each total that is reached."""
    reached = 1
    for amount, count in amounts:
        copies = 1
        while count > 0:
            take = min(copies, count)
            reached |= reached << (take * amount)
            count -= take
            copies *= 2

    def next_total(least: int) -> int | None:
        above = reached >> least
        return least + (above & -above).bit_length() - 1 if above else None

    return next_total


def opening_sums(problem: Problem) -> Sums:
    return Sums([(problem.opening(p), p.count) for p in problem.stock])


def buying_sums(problem: Problem) -> Sums:
    most = sum(problem.demand().values())
    return Sums([(problem.price(p), min(p.count, most)) for p in problem.stock])


def largest_left(problem: Problem, reached: Score) -> tuple[int, int]:
    """No remnant can be larger than this; and the step in which remnants are told apart.

    What the knives do not need of remnants, opened and bought pieces is shared by all remnants
    left, uncut ones included.
    """
    kerf = problem.rules.kerf
    spare = max(0, _room_used(problem, reached) - _need_of_made(problem, reached))
    least = min((_taken(part, kerf) for part in problem.parts.values()), default=0)
    old = [size(p) for p in problem.stock if p.is_remnant and _room(p, kerf) <= spare]
    cut = problem.stock if problem.parts else ()
    new = [min(size(p) - least, spare + _far_end(p)) for p in cut]
    is_bar = all(isinstance(piece, Bar) for piece in problem.stock)
    return max([0, *old, *new]), REMNANT_STEP if is_bar else REMNANT_STEP**2


def _room_used(problem: Problem, reached: Score) -> int:
    """Most room in the remnants and in what is opened and bought."""
    kerf = problem.rules.kerf
    room = sum(p.count * _room(p, kerf) for p in problem.stock if p.is_remnant)
    for cost_of, cost in ((problem.opening, reached.opened), (problem.price, reached.bought)):
        paid = [p for p in problem.stock if cost_of(p)]
        room += max((-(-cost * _room(p, kerf) // cost_of(p)) for p in paid), default=0)
    return room


def _need_of_made(problem: Problem, reached: Score) -> int:
    """Least room that as many knives can take, small ones first."""
    made = sum(kit.qty for kit in problem.kits) - reached.missing
    need = 0
    for each, qty in sorted((_need(problem, kit), kit.qty) for kit in problem.kits):
        need += each * min(qty, made)
        made -= min(qty, made)
    return need


def _need(problem: Problem, kit: Kit) -> int:
    kerf = problem.rules.kerf
    return sum(n * _taken(problem.parts[part], kerf) for part, n in kit.need.items() if n)


def _far_end(piece: Stock) -> int:
    return piece.trim_last if isinstance(piece, Bar) else 0
