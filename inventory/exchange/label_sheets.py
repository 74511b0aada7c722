"""Sheets of labels as a printer takes them, in millimetres.

The grids are common ones (common practice, no source): measure the sheet you have before printing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

Printed = TypeVar("Printed")

A4 = (210.0, 297.0)
LETTER = (215.9, 279.4)
SMALL_BELOW = 25.0
"""A label lower than this has no room for the item's name."""


@dataclass(frozen=True)
class LabelSheet:
    """A grid of equal labels; left and top are the margins before the first one."""

    code: str
    name: str
    paper: tuple[float, float]
    across: int
    down: int
    wide: float
    high: float
    left: float = 0.0
    top: float = 0.0
    gap: float = 0.0

    @property
    def count(self) -> int:
        return self.across * self.down

    @property
    def is_small(self) -> bool:
        return self.high < SMALL_BELOW

    def css(self) -> str:
        """Style rules that put labels of class `sticker` on pages of class `label-sheet`."""
        width, height = self.paper
        return (
            f"@page {{ size: {width}mm {height}mm; margin: 0; }}\n"
            f".label-sheet {{ --wide: {self.wide}mm; --high: {self.high}mm;"
            f" width: {width}mm; height: {height}mm; padding: {self.top}mm 0 0 {self.left}mm;"
            f" grid-template-columns: repeat({self.across}, var(--wide));"
            f" grid-auto-rows: var(--high); column-gap: {self.gap}mm; }}\n"
        )

    def pages(self, labels: Sequence[Printed], first: int = 1) -> list[list[Printed | None]]:
        """Labels in reading order page by page; None for places already used before `first`."""
        places = [None] * (first - 1) + list(labels)
        return [places[start : start + self.count] for start in range(0, len(places), self.count)]


SHEETS = {
    sheet.code: sheet
    for sheet in (
        LabelSheet("a4-24", "A4, 24 of 70 × 37 mm", A4, 3, 8, 70, 37, top=0.5),
        LabelSheet("a4-40", "A4, 40 of 52.5 × 29.7 mm", A4, 4, 10, 52.5, 29.7),
        LabelSheet(
            "a4-65", "A4, 65 of 38.1 × 21.2 mm", A4, 5, 13, 38.1, 21.2, left=4.75, top=10.7, gap=2.5
        ),
        LabelSheet(
            "letter-10",
            "Letter, 10 of 4 × 2 in",
            LETTER,
            2,
            5,
            101.6,
            50.8,
            left=4.0,
            top=12.7,
            gap=4.7,
        ),
        LabelSheet(
            "letter-30",
            "Letter, 30 of 2⅝ × 1 in",
            LETTER,
            3,
            10,
            66.7,
            25.4,
            left=4.8,
            top=12.7,
            gap=3.1,
        ),
        LabelSheet("roll-62", "Roll, one of 62 × 29 mm", (62.0, 29.0), 1, 1, 62, 29),
    )
}
