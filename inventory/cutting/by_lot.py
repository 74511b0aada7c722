"""Knives of one kind whose pieces must match: each lot is a question of its own.

Solved apart, the lots are smaller, and their bounds are rounded down one by one: half a knife in
each of two lots is no knife.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from .by_hand import by_hand
from .columns import Columns
from .hand_out import hand_out
from .material import least_missing
from .problem import Answer, Problem
from .search import Aim, Search


def is_by_lot(problem: Problem) -> bool:
    """One kind of knife, matching pieces, more than one lot."""
    return len(problem.kits) == 1 and len(problem.matching) == 1


def knives_by_lot(
    problem: Problem, columns_of: Callable[[Problem], Columns], deadline: float, share: float
) -> tuple[Answer, int]:
    """The knives of all lots together, and the fewest that any plan misses."""
    (kit,) = problem.kits
    cut, matched, most = [], {}, 0
    for number, lot in enumerate(problem.pools):
        stock = tuple(piece for piece in problem.stock if piece.lot == lot)
        part = replace(problem, stock=stock)
        search = Search(part, columns_of, by_hand(part), deadline)
        lots_left = len(problem.pools) - number
        stage = search.reach(Aim("missing", least_missing(part), 1, share / lots_left))
        most += kit.qty - stage.bound
        matched[kit.id, lot] = min(kit.qty - stage.value, kit.qty - sum(matched.values()))
        cut += search.best.cut
    answer = hand_out(problem, Answer(tuple(cut), matched, {}))
    return answer, max(0, kit.qty - most)
