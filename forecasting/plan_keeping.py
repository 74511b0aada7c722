"""How a shop keeps its plan: when planned batches really begin, learned from those already due."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.kaplan_meier import kaplan_meier
from forecasting.paths import seeded

__all__ = ["AS_PLANNED", "PlanKeeping", "PlannedStarts", "learn_plan_keeping"]

KEPT_WEIGHT = 8.0
"""Before any record a plan stands: worth so many batches begun on their day (assumption)."""
NOW_WEIGHT = 1.0
"""The same of a batch overdue: it begins today, worth one batch of the record (assumption)."""
FORGOTTEN_DAYS = 60.0
"""A batch waiting for longer is given up in all but name (assumption)."""


@dataclass(frozen=True)
class PlanKeeping:
    """What past plans came to.

    late: days from the planned to the real start, ascending; below 0 early, infinite: given up.
    weight: of each, in batches. begun_in_time, given_up, seen: batches counted.
    """

    late: np.ndarray
    weight: np.ndarray
    begun_in_time: int = 0
    given_up: int = 0
    seen: int = 0

    def starts(self, due: float, paths: int, rng: np.random.Generator) -> np.ndarray:
        """Day on which a batch due in `due` days begins in each future; infinite where it never does.

        A batch already overdue has not begun so far: only what came as late speaks for it.
        """
        today = max(due, 0.0)
        possible = self.late >= -due
        days = np.append(today, due + self.late[possible])
        weight = np.append(KEPT_WEIGHT if due >= 0 else NOW_WEIGHT, self.weight[possible])
        return rng.choice(days, size=paths, p=weight / weight.sum())


AS_PLANNED = PlanKeeping(np.zeros(0), np.zeros(0))
"""Nothing on record: batches begin on their day, overdue ones today."""


@dataclass(frozen=True)
class PlannedStarts:
    """Start days of every planned batch; those due on one day slip together, whatever their product."""

    keeping: PlanKeeping
    as_of: pd.Timestamp
    paths: int
    seed: int

    def of(self, due: pd.Series) -> np.ndarray:
        """Days from today, shape (paths, rows of due), the same whenever a day is asked for."""
        slips = [self._start(day) for day in due]
        return np.column_stack(slips) if slips else np.zeros((self.paths, 0))

    def _start(self, day: pd.Timestamp) -> np.ndarray:
        rng = seeded(self.seed, "plan", day.date())
        return self.keeping.starts(float((day - self.as_of).days), self.paths, rng)


def learn_plan_keeping(past_plans: pd.DataFrame) -> PlanKeeping:
    """Lateness of past plans; with few of them most futures still begin as planned.

    A batch still waiting will be later than it is today: the product-limit estimate gives its
    weight to those that were. When none was, it tells nothing yet, unless it waits for so long that
    it counts as given up.
    Shapes: past_plans as in forecasting.frames.
    Source: as kaplan_meier.
    """
    if past_plans.empty:
        return AS_PLANNED
    outcome, late = past_plans["outcome"], past_plans["late"]
    given_up = (outcome == "given up") | ((outcome == "waiting") & (late > FORGOTTEN_DAYS))
    begun = outcome == "begun"
    never = late.max() + 1
    before_first = late.min() - 1
    known = kaplan_meier(late.mask(given_up, never) - before_first, begun | given_up)
    days = known.life + before_first
    return PlanKeeping(
        late=np.where(days == never, np.inf, days),
        weight=-np.diff(known.survival, prepend=1.0) * len(late),
        begun_in_time=int((begun & (late <= 0)).sum()),
        given_up=int(given_up.sum()),
        seen=len(late),
    )
