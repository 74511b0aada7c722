"""What the search asks of the ways to cut bars, and of those to cut sheets."""

from __future__ import annotations

from typing import Protocol

from .hand_out import Score
from .problem import Answer
from .program import Priced, Program, Relaxed


class Columns(Protocol):
    """Ways to cut the pieces of one material, found while the program grows."""

    program: Program
    scales: dict[str, float]
    counts: dict[int, int]
    openings: dict[int, float]
    grid_um: int
    fixed_first: str | None

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
