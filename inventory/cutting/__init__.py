"""Cutting plans: will the pieces on the rack do, what is bought, what is cut from which piece.

plan -> problem -> layout -> hand_out -> by_hand -> report -> bars, sheets; `check` stands apart.
"""

from .bars import plan_bars
from .check import check
from .plan import (
    BadCuttingInput,
    Bar,
    Blank,
    Cut,
    Kit,
    Part,
    PiecePlan,
    Placed,
    Plan,
    Rules,
    Sheet,
    StageResult,
)
from .sheets import plan_sheets
from .usable import usable_for

__all__ = [
    "BadCuttingInput",
    "Bar",
    "Blank",
    "Cut",
    "Kit",
    "Part",
    "PiecePlan",
    "Placed",
    "Plan",
    "Rules",
    "Sheet",
    "StageResult",
    "check",
    "plan_bars",
    "plan_sheets",
    "usable_for",
]
