"""Give each cut part to a knife, drop what no knife takes, and score the result."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from .layout import largest_remnant
from .plan import Kit
from .problem import Answer, CutPiece, Problem, Segment, Strip, size


@dataclass(frozen=True, order=True)
class Score:
    """Aims in their order; smaller is better."""

    missing: int
    bought: int
    opened: int
    remnant_lost: int

    def of(self, aim: str) -> int:
        return getattr(self, aim)

    @property
    def remnant(self) -> int:
        return -self.remnant_lost


def hand_out(problem: Problem, answer: Answer) -> Answer:
    """Name the knife of each part; surplus parts stay uncut, last pieces first."""
    wanted = _wanted(problem, answer)
    spare = _wanted_from_any_lot(problem, answer)
    cut = []
    for piece in sorted(answer.cut, key=lambda c: _rank(problem, c)):
        queue = wanted.get(problem.pool(piece.stock), {})
        strips = [_named(strip, queue, spare, problem.rules.kerf) for strip in piece.strips]
        strips = [strip for strip in strips if strip.segments]
        if strips:
            cut.append(replace(piece, strips=tuple(strips)))
    return replace(answer, cut=tuple(cut))


def score(problem: Problem, answer: Answer) -> Score:
    """Missing knives, cost bought, full pieces opened, largest remnant; from the pieces cut."""
    used = Counter(piece.stock.id for piece in answer.cut)
    untouched = (
        size(p)
        for p in problem.stock
        if p.is_remnant and not p.purchasable and used[p.id] < p.count
    )
    fresh = (largest_remnant(piece, problem.rules) for piece in answer.cut)
    return Score(
        missing=sum(kit.qty - answer.made(kit.id) for kit in problem.kits),
        bought=sum(problem.price(piece.stock) for piece in answer.cut),
        opened=sum(problem.opening(piece.stock) for piece in answer.cut),
        remnant_lost=-max([*untouched, *fresh], default=0),
    )


def _rank(problem: Problem, piece: CutPiece) -> tuple[bool, int, int, str]:
    stock = piece.stock
    return stock.purchasable, problem.opening(stock), size(stock), stock.id


def _wanted(problem: Problem, answer: Answer) -> dict[str, dict[str, list[str]]]:
    """pool -> part -> knives of matching lots still waiting for one."""
    wanted: dict[str, dict[str, list[str]]] = {}
    for kit in problem.matching:
        for lot in problem.pools:
            made = answer.matched.get((kit.id, lot), 0)
            _queue(wanted.setdefault(lot, {}), kit, made)
    return wanted


def _wanted_from_any_lot(problem: Problem, answer: Answer) -> dict[str, list[str]]:
    spare: dict[str, list[str]] = {}
    for kit in problem.mixing:
        _queue(spare, kit, answer.mixed.get(kit.id, 0))
    return spare


def _queue(queue: dict[str, list[str]], kit: Kit, made: int) -> None:
    for part, number in kit.need.items():
        queue.setdefault(part, []).extend([kit.id] * (number * made))


def _named(
    strip: Strip, queue: dict[str, list[str]], spare: dict[str, list[str]], kerf: int
) -> Strip:
    segments = []
    for segment in strip.segments:
        kits = []
        for _ in segment.kits:
            for waiting in (queue.get(segment.item), spare.get(segment.item)):
                if waiting:
                    kits.append(waiting.pop(0))
                    break
        if kits:
            segments.append(replace(segment, kits=tuple(kits)))
    return Strip(_width(segments, kerf), tuple(segments))


def _width(segments: list[Segment], kerf: int) -> int:
    return max((segment.across(kerf) for segment in segments), default=0)
