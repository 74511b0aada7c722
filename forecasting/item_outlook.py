"""What will be used: items driven by the futures of the products, and by use outside batches."""

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.classify import DemandPattern, demand_pattern
from forecasting.demand import weekly_demand
from forecasting.direct_use import DirectUse, learn_direct_use, simulate_direct_use
from forecasting.paths import Paths
from forecasting.product_outlook import ProductOutlook, seeded

__all__ = ["ItemOutlook", "item_outlooks", "use_by_batches"]

BY_BATCHES = "batches of its products"


@dataclass(frozen=True)
class ItemOutlook:
    """Futures of one item: its products' batches times usage, plus use outside batches.

    drivers: (outlook of a product, stock units per knife, stock units per batch).
    """

    pattern: DemandPattern
    history_periods: int
    model: str
    scores: dict[str, float]
    drivers: tuple[tuple[ProductOutlook, float, float], ...]
    direct: Paths
    use_by_week: np.ndarray
    note: str

    def use_until(self, last_day: np.ndarray | float) -> np.ndarray:
        """Stock units used up to and including a day, per path."""
        used = self.direct.until(last_day)[0]
        for product, per_knife, per_batch in self.drivers:
            knives, batches = product.paths.until(last_day)
            used = used + per_knife * knives + per_batch * batches
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
    uses = dict(list(usage.groupby("item", sort=False)))
    outlooks = {}
    for item in items:
        outside = direct_use.get(item)
        series = history.get(item, np.zeros(0))
        used_by = uses.get(item, usage.iloc[:0])
        drawn = simulate_direct_use(
            outside,
            horizon_days=horizon_days,
            paths=paths,
            rng=seeded(seed, "item", item),
        )
        drivers = tuple(
            (products[row.product], row.per_knife, row.per_batch) for row in used_by.itertuples()
        )
        outlooks[item] = ItemOutlook(
            pattern=demand_pattern(series),
            history_periods=len(series),
            model=_model(used_by, outside),
            scores=outside.level.scores if outside else {},
            drivers=drivers,
            direct=drawn,
            use_by_week=_use_by_week(drivers, drawn, week_ends),
            note=_note(used_by, products, outside, len(series)),
        )
    return outlooks


def _use_by_week(
    drivers: tuple[tuple[ProductOutlook, float, float], ...], direct: Paths, week_ends: np.ndarray
) -> np.ndarray:
    used = direct.by_day(week_ends)[0]
    for product, per_knife, per_batch in drivers:
        used = used + per_knife * product.knives_by_week + per_batch * product.batches_by_week
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


def _model(used_by: pd.DataFrame, outside: DirectUse | None) -> str:
    parts = [BY_BATCHES] if len(used_by) else []
    if outside:
        parts.append(f"outside batches: {outside.level.model} and shared counts")
    return "; ".join(parts) or "no history"


def _note(
    used_by: pd.DataFrame,
    products: dict[Hashable, ProductOutlook],
    outside: DirectUse | None,
    weeks: int,
) -> str:
    if used_by.empty and outside is None:
        return "not enough history: no product uses it and no use outside batches is on record"
    silent = [name for name in used_by["product"] if not products[name].paths.day.size]
    if outside is None and len(silent) == len(used_by):
        return "not enough history: no product that uses it was ever built or planned"
    few = [name for name in used_by["product"] if products[name].batches_seen < 4]
    if few:
        return f"rests on products with few batches: {', '.join(map(str, few))}"
    return f"only {weeks} weeks of use on record" if weeks < 8 else ""
