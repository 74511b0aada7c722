"""Cutting plans: will the pieces on the rack do, what is bought, what is cut from which piece.

plan       the nouns, in whole micrometres         usable     how much one piece yields
problem    one question in order                   check      judges a plan, shares no code
layout     coordinates, remnants, cuts             drawing    SVG and table of cuts
hand_out   knives to parts, score of an answer     plan_json  a plan as JSON and back
by_hand -> search (demand, program, material, opening) -> by_lot, best_plan -> bars, sheets
           with bar_columns and sheet_columns (groups, knapsack, strips) as ways to cut
"""

from .bars import plan_bars
from .check import check
from .drawing import CutRow, cut_table, draw_piece
from .plan import (
    AimName,
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
from .plan_json import plan_from_json, plan_to_json
from .sheets import plan_sheets
from .usable import usable_for

__all__ = [
    "AimName",
    "BadCuttingInput",
    "Bar",
    "Blank",
    "Cut",
    "CutRow",
    "Kit",
    "Part",
    "PiecePlan",
    "Placed",
    "Plan",
    "Rules",
    "Sheet",
    "StageResult",
    "check",
    "cut_table",
    "draw_piece",
    "plan_bars",
    "plan_from_json",
    "plan_sheets",
    "plan_to_json",
    "usable_for",
]
