"""Cutting plans for sheets, ripped into strips and cross-cut into blanks."""

from __future__ import annotations

from collections.abc import Sequence

from .best_plan import best_plan
from .plan import Blank, Kit, Plan, Rules, Sheet, refuse_bad_input
from .problem import ordered_problem
from .sheet_columns import SheetColumns


def plan_sheets(
    blanks: Sequence[Blank], sheets: Sequence[Sheet], kits: Sequence[Kit], rules: Rules
) -> Plan:
    """Blanks from sheets: most knives, least bought, fewest full sheets, largest remnant.

    Raises: BadCuttingInput naming the record that cannot be planned.
    """
    refuse_bad_input(blanks, sheets, kits, rules)
    return best_plan(ordered_problem(blanks, sheets, kits, rules), kits, SheetColumns)
