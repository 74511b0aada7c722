"""Changes in a job where used and reground cutters stand in line before the new ones.

Several of one kind are often there, each with an age of its own: fitted beside each other as sister
cutters, fitted on two machines, or reground and ready. Only `math` and `numpy` are loaded.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forecasting.errors import require
from forecasting.renewal import Aged, ChangeCount, line_changes
from forecasting.tool_life import Changes, LifeModel, survives

__all__ = ["InLine", "changes_at_once", "changes_in_line"]


@dataclass(frozen=True)
class InLine:
    """One that goes in before any new one: how long its kind lasts, and its use so far."""

    model: LifeModel
    used: float = 0.0

    @property
    def aged(self) -> Aged:
        return Aged(*self.model.around.few_pairs(), self.used)


def changes_in_line(line: Sequence[InLine], new: LifeModel, job: float) -> Changes:
    """Changes to expect during a job: the first in line is fitted, each follows as one fails.

    Checked in: tests/forecasting/test_cutter_line.py, against simulation.
    """
    require(len(line) > 0, "line", "hold the fitted one", len(line))
    count = line_changes([one.aged for one in line], Aged(*new.around.few_pairs()), job)
    none = survives(line[0].model, line[0].used, job)
    return Changes(count.expected, count.at_most(0.95), none, count)


def changes_at_once(parts: Sequence[Changes]) -> Changes:
    """Changes in all of several jobs done side by side, each with cutters of its own."""
    require(len(parts) > 0, "parts", "hold a job", len(parts))
    if len(parts) == 1:
        return parts[0]
    chance, none = np.ones(1), 1.0
    for part in parts:
        chance = np.convolve(chance, part.count.chance)
        none *= part.chance_of_none
    count = ChangeCount(chance)
    return Changes(count.expected, count.at_most(0.95), none, count)
