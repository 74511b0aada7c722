"""Push the blanks of each sheet together, so that one large remnant is left instead of several.

The blanks stay on their sheet; only their places change. The sheet is imagined shorter and
shorter on one side until the blanks no longer fit by hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from .by_hand import fill_one, rips
from .hand_out import hand_out
from .layout import largest_remnant
from .plan import Sheet
from .problem import Answer, CutPiece, Problem

FINEST = 1000  # a side is not searched finer than a thousandth


def compacted(problem: Problem, answer: Answer) -> Answer:
    """The same knives from the same pieces, with the largest remnants found."""
    cut = tuple(_best_of(problem, piece) for piece in answer.cut)
    return hand_out(problem, replace(answer, cut=cut))


def _best_of(problem: Problem, piece: CutPiece) -> CutPiece:
    if not isinstance(piece.stock, Sheet):
        return piece
    ways = [piece, *_pushed_together(problem, piece)]
    return max(ways, key=lambda way: largest_remnant(way, problem.rules))


def _pushed_together(problem: Problem, piece: CutPiece) -> Iterator[CutPiece]:
    for rip in rips(piece.stock):
        for side in ("x", "y"):
            best = _shortest(problem, piece, rip, side)
            if best is not None:
                yield best


def _shortest(problem: Problem, piece: CutPiece, rip: str, side: str) -> CutPiece | None:
    """Bisection on one side of the sheet; the blanks are laid by hand each time."""
    low, high = getattr(piece.stock, f"trim_{side}"), getattr(piece.stock, side)
    best = None
    precision = high // FINEST
    while high - low > max(1, precision):
        middle = (low + high) // 2
        shorter = replace(piece.stock, rip=rip, **{side: middle})
        filled = fill_one(problem, shorter, piece.parts())
        if filled is None:
            low = middle
        else:
            best, high = replace(filled, stock=piece.stock), middle
    return best
