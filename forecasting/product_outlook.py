"""What will be built: one outlook per product, from its rhythm and the plan."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from forecasting.batch_paths import simulate_batches
from forecasting.build_rhythm import Rhythm, learn_rhythms, rhythm_without_history
from forecasting.demand import weekly_demand
from forecasting.paths import DailyTotals, Paths, no_events, seeded
from forecasting.plan_keeping import PlanKeeping, PlannedStarts
from forecasting.point_forecast import WEEKS_AHEAD, Level, Rival, weekly_levels

__all__ = ["FEW_BATCHES", "ProductOutlook", "product_outlooks", "seeded"]

BATCH_RHYTHM, NO_HISTORY = "batch rhythm", "no history"
FEW_BATCHES = 4
PATHS_TO_COMPARE = 200
UNKNOWN_LEVEL = Level("too few to class", "no history", 0.0, {})


@dataclass(frozen=True)
class ProductOutlook:
    """Futures of one product and what they rest on.

    batches_seen: batches on record. knives_by_week, batches_by_week: started from today to the end
    of each week, shape (weeks, paths).
    """

    level: Level
    model: str
    batches_seen: int
    paths: Paths
    knives_by_week: np.ndarray
    batches_by_week: np.ndarray
    note: str

    @cached_property
    def knives_by_day(self) -> DailyTotals:
        return DailyTotals(self.paths.day, self.paths.qty)

    @cached_property
    def batches_by_day(self) -> DailyTotals:
        return DailyTotals(self.paths.day, self.paths.batches)


def product_outlooks(
    products: Sequence[Hashable],
    builds: pd.DataFrame,
    plan: pd.DataFrame,
    starts: PlannedStarts,
    *,
    levels: Mapping[Hashable, Level] | None = None,
    as_of: pd.Timestamp,
    week_ends: np.ndarray,
    horizon_days: int,
    paths: int,
    seed: int,
) -> dict[Hashable, ProductOutlook]:
    """Outlook of every product named; tables as in forecasting.frames, builds up to as_of.

    Weekly models are fitted to be compared with, and to class demand; the futures are those of the
    rhythm, which follows a changed pace better than moving it halfway to the best of them.

    Args: starts: when planned batches begin. levels: known ones, not fitted again. week_ends: days
        from as_of to the Sunday of each week. horizon_days: end of the futures.
    """
    rhythms = learn_rhythms(builds, as_of)
    if levels is None:
        rival = Rival(BATCH_RHYTHM, lambda day: _expected_knives(builds, day, seed))
        levels = weekly_levels(weekly_demand(builds, "product", as_of=as_of), "product", rival)
    outlooks = {}
    for product in products:
        own_plan = plan[plan["product"] == product]
        level = levels.get(product, UNKNOWN_LEVEL)
        rhythm = _rhythm(rhythms, product, own_plan)
        drawn = simulate_batches(
            rhythm,
            _planned(own_plan, starts),
            horizon_days=horizon_days,
            rng=seeded(seed, "product", product),
        )
        seen = int((builds["product"] == product).sum())
        knives, batches = drawn.by_day(week_ends)
        outlooks[product] = ProductOutlook(
            level=level,
            model=BATCH_RHYTHM if rhythm else NO_HISTORY,
            batches_seen=seen,
            paths=drawn,
            knives_by_week=knives,
            batches_by_week=batches,
            note=_note(rhythm, seen, own_plan, starts.keeping, as_of),
        )
    return outlooks


def _planned(own_plan: pd.DataFrame, starts: PlannedStarts) -> Paths:
    day = starts.of(own_plan["day"])
    return Paths(day, np.tile(own_plan["qty"].to_numpy(), (len(day), 1)), np.ones_like(day))


def _rhythm(
    rhythms: dict[Hashable, Rhythm], product: Hashable, own_plan: pd.DataFrame
) -> Rhythm | None:
    if product in rhythms:
        return rhythms[product]
    if own_plan.empty:
        return None
    return rhythm_without_history(list(rhythms.values()), own_plan["qty"].to_numpy())


def _expected_knives(builds: pd.DataFrame, day: pd.Timestamp, seed: int) -> dict[Hashable, float]:
    """Knives of each product in the weeks after a past day, by its rhythm as known that day."""
    days = 7 * WEEKS_AHEAD
    return {
        product: float(
            simulate_batches(
                rhythm,
                no_events(PATHS_TO_COMPARE),
                horizon_days=days,
                rng=seeded(seed, "past", product),
            )
            .until(days)[0]
            .mean()
        )
        for product, rhythm in learn_rhythms(builds[builds["day"] <= day], day).items()
    }


def _note(
    rhythm: Rhythm | None,
    seen: int,
    own_plan: pd.DataFrame,
    keeping: PlanKeeping,
    as_of: pd.Timestamp,
) -> str:
    if rhythm is None:
        return "not enough history: no batch on record and none planned, nothing forecast"
    words = []
    if seen == 0:
        words.append("no batch on record: the plan stands, then the shop's usual rhythm")
    elif seen < FEW_BATCHES:
        batches = "batch" if seen == 1 else "batches"
        words.append(f"only {seen} {batches} so far: leaning on the shop's other products")
    if not own_plan.empty:
        last = max(as_of, own_plan["day"].max())
        words.append(
            f"planned batches{_kept(keeping)} up to {last.day} {last:%b %Y}, forecast after that"
        )
    elif rhythm.alive < 0.5:
        words.append(
            f"no batch for {rhythm.age_days:.0f} days: "
            f"{1 - rhythm.alive:.0%} likely to be no longer made"
        )
    return "; ".join(words)


def _kept(keeping: PlanKeeping) -> str:
    if not keeping.seen:
        return " stand"
    given_up = f", {keeping.given_up} given up" if keeping.given_up else ""
    return (
        f" come as they came before ({keeping.begun_in_time} of {keeping.seen} begun by their day"
        f"{given_up})"
    )
