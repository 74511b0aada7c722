"""What will be used: items driven by the futures of the products, and by use outside batches."""

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.classify import DemandPattern, demand_pattern
from forecasting.demand import weekly_demand
from forecasting.direct_use import DirectUse, learn_direct_use, simulate_direct_use
from forecasting.paths import Paths
from forecasting.product_outlook import FEW_BATCHES, ProductOutlook, seeded

__all__ = ["ItemOutlook", "item_outlooks", "use_by_batches"]

BY_BATCHES = "batches of its products"
FEW_WEEKS = 8


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

    scores: losses of the weekly models for use outside batches. use_by_week: from today to the end
    of each week, shape (weeks, paths).
    """

    pattern: DemandPattern
    history_periods: int
    model: str
    scores: dict[str, float]
    drivers: tuple[Driver, ...]
    direct: Paths
    use_by_week: np.ndarray
    note: str

    def use_until(self, last_day: np.ndarray | float) -> np.ndarray:
        """Stock units used up to and including a day, per path."""
        used = self.direct.until(last_day)[0]
        for driver in self.drivers:
            used = used + driver.use(*driver.outlook.paths.until(last_day))
        return used


def item_outlooks(
    items: list[Hashable],
    products: dict[Hashable, ProductOutlook],
    builds: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    *,
    as_of: pd.Timestamp,
    week_ends: np.ndarray,
    horizon_days: int,
    paths: int,
    seed: int,
) -> dict[Hashable, ItemOutlook]:
    """Outlook of every item named; tables as in forecasting.frames, records up to as_of."""
    history = _weekly_use(builds, usage, direct, as_of)
    direct_use = learn_direct_use(direct, as_of)
    drivers: dict[Hashable, list[Driver]] = {item: [] for item in [*items, *usage["item"]]}
    for row in usage.itertuples():
        driver = Driver(row.product, products[row.product], row.per_knife, row.per_batch)
        drivers[row.item].append(driver)
    outlooks = {}
    for item in items:
        outside = direct_use.get(item)
        series = history.get(item, np.zeros(0))
        drawn = simulate_direct_use(
            outside,
            horizon_days=horizon_days,
            paths=paths,
            rng=seeded(seed, "item", item),
        )
        outlooks[item] = ItemOutlook(
            pattern=demand_pattern(series),
            history_periods=len(series),
            model=_model(drivers[item], outside),
            scores=outside.level.scores if outside else {},
            drivers=tuple(drivers[item]),
            direct=drawn,
            use_by_week=_use_by_week(drivers[item], drawn, week_ends),
            note=_note(drivers[item], outside, len(series)),
        )
    return outlooks


def _use_by_week(drivers: list[Driver], direct: Paths, week_ends: np.ndarray) -> np.ndarray:
    used = direct.by_day(week_ends)[0]
    for driver in drivers:
        used += driver.use(driver.outlook.knives_by_week, driver.outlook.batches_by_week)
    return used


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


def _model(drivers: list[Driver], outside: DirectUse | None) -> str:
    parts = [BY_BATCHES] if drivers else []
    if outside:
        parts.append(f"outside batches: {outside.level.model} and shared counts")
    return "; ".join(parts) or "no history"


def _note(drivers: list[Driver], outside: DirectUse | None, weeks: int) -> str:
    if not drivers and outside is None:
        return "not enough history: no product uses it and no use outside batches is on record"
    silent = [driver for driver in drivers if not driver.outlook.paths.day.size]
    if outside is None and len(silent) == len(drivers):
        return "not enough history: no product that uses it was ever built or planned"
    few = [str(driver.product) for driver in drivers if driver.outlook.batches_seen < FEW_BATCHES]
    if few:
        return f"rests on products with few batches: {', '.join(few)}"
    return f"only {weeks} weeks of use on record" if weeks < FEW_WEEKS else ""
