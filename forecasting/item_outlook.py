"""What will be used: items driven by the futures of the products, and by use outside batches."""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.classify import DemandPattern, demand_pattern
from forecasting.cutter_paths import CutterChanges, simulate_changes
from forecasting.demand import weekly_demand
from forecasting.direct_use import DirectUse, learn_direct_use, simulate_direct_use
from forecasting.paths import Paths, no_events
from forecasting.point_forecast import Level
from forecasting.product_outlook import FEW_BATCHES, ProductOutlook, seeded

__all__ = ["ItemOutlook", "item_outlooks", "planned_paths", "use_by_batches"]

BY_BATCHES = "batches of its products"
AS_IT_FAILS = "each changed as it fails"
FEW_WEEKS = 8
DECIMALS = 9
"""Kept of a difference of uses, so that what cancels out is 0."""


@dataclass(frozen=True)
class Driver:
    """A product that uses the item, stock units per knife and per batch."""

    product: Hashable
    outlook: ProductOutlook
    per_knife: float
    per_batch: float

    def use(self, knives: np.ndarray, batches: np.ndarray) -> np.ndarray:
        """Stock units for that many knives in that many batches."""
        used = self.per_knife * knives
        return used + self.per_batch * batches if self.per_batch else used


@dataclass(frozen=True)
class ItemOutlook:
    """Futures of one item: its products' batches times usage, plus use outside batches.

    scores: losses of the weekly models for use outside batches; direct_level: a week, by the best
    of them. planned: what planned batches take
    above their products' usage, one future for all. changes: of a wearing item, when each is used
    up. use_by_week: from today to the end of each week, shape (weeks, paths).
    """

    pattern: DemandPattern
    history_periods: int
    model: str
    scores: dict[str, float]
    direct_level: float
    drivers: tuple[Driver, ...]
    planned: Paths
    direct: Paths
    changes: CutterChanges | None
    use_by_week: np.ndarray
    note: str

    def use_until(self, last_day: np.ndarray | float) -> np.ndarray:
        """Stock units used up to and including a day, per path."""
        outside = self.direct.until(last_day)[0]
        built = _built(self.drivers, self.planned, last_day, len(outside))
        return outside + (built if self.changes is None else self.changes.until(built))


def item_outlooks(
    items: list[Hashable],
    products: dict[Hashable, ProductOutlook],
    builds: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    lives: dict[Hashable, pd.DataFrame],
    own_use: dict[Hashable, Paths],
    *,
    direct_levels: Mapping[Hashable, Level] | None = None,
    as_of: pd.Timestamp,
    week_ends: np.ndarray,
    horizon_days: int,
    paths: int,
    seed: int,
) -> dict[Hashable, ItemOutlook]:
    """Outlook of every item named; tables as in forecasting.frames, records up to as_of.

    lives: rows of the table wear by item; items without any are used up by their mean. own_use: of
    planned batches, see planned_paths. direct_levels: known of use outside batches, not fitted again.
    """
    history = _weekly_use(builds, usage, direct, as_of)
    direct_use = learn_direct_use(direct, as_of, direct_levels)
    drivers: dict[Hashable, list[Driver]] = {item: [] for item in [*items, *usage["item"]]}
    for row in usage.itertuples():
        driver = Driver(row.product, products[row.product], row.per_knife, row.per_batch)
        drivers[row.item].append(driver)
    outlooks = {}
    for item in items:
        outside = direct_use.get(item)
        planned = own_use.get(item, no_events(1))
        series = history.get(item, np.zeros(0))
        drawn = simulate_direct_use(
            outside,
            horizon_days=horizon_days,
            paths=paths,
            rng=seeded(seed, "item", item),
        )
        changes = None
        if item in lives and drivers[item]:
            changes = simulate_changes(
                lives[item],
                most_used=float(_built(drivers[item], planned, horizon_days, paths).max()),
                paths=paths,
                rng=seeded(seed, "wear", item),
            )
        outlooks[item] = ItemOutlook(
            pattern=demand_pattern(series),
            history_periods=len(series),
            model=_model(drivers[item], planned, outside, changes),
            scores=outside.level.scores if outside else {},
            direct_level=outside.level.per_week if outside else 0.0,
            drivers=tuple(drivers[item]),
            planned=planned,
            direct=drawn,
            changes=changes,
            use_by_week=_use_by_week(drivers[item], planned, drawn, changes, week_ends),
            note=_note(drivers[item], planned, outside, len(series)),
        )
    return outlooks


def planned_paths(planned_use: pd.DataFrame, as_of: pd.Timestamp) -> dict[Hashable, Paths]:
    """The table planned_use by item, each as one future: the plan is the same in all of them."""
    days = (planned_use["day"] - as_of).dt.days.clip(lower=0).astype(float)
    futures = {}
    for item, rows in planned_use.assign(day=days).groupby("item"):
        day, qty = (rows[name].to_numpy()[None, :] for name in ("day", "qty"))
        futures[item] = Paths(day, qty, np.zeros_like(qty))
    return futures


def _built(
    drivers: Iterable[Driver], planned: Paths, last_day: np.ndarray | float, paths: int
) -> np.ndarray:
    """Use by batches up to and including a day, per path."""
    used = np.zeros(paths)
    for driver in drivers:
        used = used + driver.use(*driver.outlook.paths.until(last_day))
    return _with_planned(used, planned, planned.until(last_day)[0])


def _use_by_week(
    drivers: list[Driver],
    planned: Paths,
    direct: Paths,
    changes: CutterChanges | None,
    week_ends: np.ndarray,
) -> np.ndarray:
    outside = direct.by_day(week_ends)[0]
    built = np.zeros_like(outside)
    for driver in drivers:
        built += driver.use(driver.outlook.knives_by_week, driver.outlook.batches_by_week)
    built = _with_planned(built, planned, planned.by_day(week_ends)[0])
    return outside + (built if changes is None else changes.until(built))


def _with_planned(used: np.ndarray, planned: Paths, difference: np.ndarray) -> np.ndarray:
    """Use by batches, the planned ones in their own choices; never below 0."""
    if not planned.day.size:
        return used
    return np.maximum(np.round(used + difference, DECIMALS), 0.0)


def use_by_batches(builds: pd.DataFrame, usage: pd.DataFrame) -> pd.DataFrame:
    """Use of each item on the day of each batch, by the usage given: item, day, qty."""
    built = builds.merge(usage, on="product")
    built["qty"] = built["qty"] * built["per_knife"] + built["per_batch"]
    return built.loc[built["qty"] > 0, ["item", "day", "qty"]]


def _weekly_use(
    builds: pd.DataFrame, usage: pd.DataFrame, direct: pd.DataFrame, as_of: pd.Timestamp
) -> dict[Hashable, np.ndarray]:
    """Past weekly use of each item as the present bills of materials would have caused it."""
    records = pd.concat([use_by_batches(builds, usage), direct])
    weekly = weekly_demand(records, "item", as_of=as_of)
    return {item: rows["qty"].to_numpy() for item, rows in weekly.groupby("item", sort=False)}


def _model(
    drivers: list[Driver],
    planned: Paths,
    outside: DirectUse | None,
    changes: CutterChanges | None,
) -> str:
    parts = [BY_BATCHES] if drivers or planned.day.size else []
    if changes is not None:
        parts.append(AS_IT_FAILS)
    if outside:
        parts.append(f"outside batches: {outside.level.model} and shared counts")
    return "; ".join(parts) or "no history"


def _note(drivers: list[Driver], planned: Paths, outside: DirectUse | None, weeks: int) -> str:
    if outside is None and all(not driver.outlook.paths.day.size for driver in drivers):
        if planned.day.size:
            return "planned batches alone: nothing built in its usual choices takes it"
        if not drivers:
            return "not enough history: no product uses it and no use outside batches is on record"
        return "not enough history: no product that uses it was ever built or planned"
    few = [str(driver.product) for driver in drivers if driver.outlook.batches_seen < FEW_BATCHES]
    if few:
        return f"rests on products with few batches: {', '.join(few)}"
    return f"only {weeks} weeks of use on record" if weeks < FEW_WEEKS else ""
