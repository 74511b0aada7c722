"""Cutting plans for bars and for rolls of webbing."""

from __future__ import annotations

from collections.abc import Sequence

from .bar_columns import BarColumns
from .best_plan import best_plan
from .plan import Bar, Kit, Part, Plan, Rules, refuse_bad_input
from .problem import ordered_problem


def plan_bars(
    parts: Sequence[Part], bars: Sequence[Bar], kits: Sequence[Kit], rules: Rules
) -> Plan:
    """Lengths from bars: most knives, least bought, fewest full bars, largest remnant.

    Raises: BadCuttingInput naming the record that cannot be planned.
    """
    refuse_bad_input(parts, bars, kits, rules)
    return best_plan(ordered_problem(parts, bars, kits, rules), kits, BarColumns)
