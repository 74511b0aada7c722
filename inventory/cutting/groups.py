"""Pieces that are cut alike, and the rows and costs they bring into the program."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from .demand import BOUGHT_WEIGHT, OPENED_WEIGHT, SPARING, USED, demand_program
from .plan import Bar
from .problem import Problem, Stock, size

HANDLING = 1e-4  # so that of equal plans the one that cuts fewer pieces wins


@dataclass(frozen=True)
class Group:
    """Equal pieces of one pool; `count` is limited to what could ever be used."""

    number: int
    pool: str
    pieces: tuple[Stock, ...]
    count: int

    @property
    def piece(self) -> Stock:
        return self.pieces[0]

    def one_by_one(self) -> Iterator[Stock]:
        return (piece for piece in self.pieces for _ in range(piece.count))


class PieceProgram:
    """The program with a count row per group; aims are scaled to about one."""

    def __init__(self, problem: Problem, is_usable: Callable[[Stock], bool]) -> None:
        self.problem = problem
        self.kinds = tuple(problem.parts)
        self.demand = problem.demand()
        self.groups = [g for g in _groups(problem, self.demand.total()) if is_usable(g.piece)]
        self.pools = tuple(sorted({group.pool for group in self.groups}))
        pieces = [group.piece for group in self.groups]
        largest = max(map(size, pieces), default=1)
        self.scales = {
            "missing": 1,
            "bought": max(map(problem.price, pieces), default=1) or 1,
            "opened": max(map(problem.opening, pieces), default=1) or 1,
            "remnant_lost": largest,
            USED: largest,
        }
        self.counts = {group.number: group.count for group in self.groups}
        self.openings = {
            group.number: problem.opening(group.piece) / self.scales["opened"]
            for group in self.groups
        }
        self._group_of = {piece.id: group for group in self.groups for piece in group.pieces}
        self.program = demand_program(problem)
        for group in self.groups:
            self.program.add_row(("count", group.number), upper=group.count)

    def group_of(self, piece: Stock) -> Group:
        return self._group_of[piece.id]

    def in_pool(self, pool: str) -> Iterator[Group]:
        return (group for group in self.groups if group.pool == pool)

    def opening_entries(self, group: Group) -> dict:
        """What any way to cut a piece of the group costs."""
        piece = group.piece
        return {
            ("count", group.number): 1,
            "bought": self.problem.price(piece) / self.scales["bought"],
            "opened": self.openings[group.number],
            USED: size(piece) / self.scales[USED],
            SPARING: size(piece) / self.scales[USED]
            + OPENED_WEIGHT * self.openings[group.number]
            + BOUGHT_WEIGHT * self.problem.price(piece) / self.scales["bought"],
        }

    def donor_entries(self, left: int) -> dict:
        return {"donor": 1, "remnant_lost": -left / self.scales["remnant_lost"]}

    def uncut_entries(self, group: Group) -> dict:
        """A remnant left as it is."""
        return {("count", group.number): 1, **self.donor_entries(size(group.piece))}

    def spent(self, group: Group, left: int) -> float:
        """Squares keep long pieces long: two halves are worth half of one whole."""
        scale = self.scales["remnant_lost"]
        return (size(group.piece) / scale) ** 2 - (left / scale) ** 2 + HANDLING


def _groups(problem: Problem, most: int) -> list[Group]:
    alike: dict[tuple, list[Stock]] = {}
    for piece in problem.stock:
        traits = replace(piece, id="", count=1, lot=problem.pool(piece))
        alike.setdefault((isinstance(piece, Bar), traits), []).append(piece)
    return [
        Group(n, problem.pool(pieces[0]), tuple(pieces), min(sum(p.count for p in pieces), most))
        for n, pieces in enumerate(alike.values())
    ]
