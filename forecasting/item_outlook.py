"""What will be used: items driven by the futures of the products, and by use outside batches."""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.classify import DemandPattern, demand_pattern
from forecasting.cutter_paths import CutterChanges, simulate_changes
from forecasting.demand import weekly_demand
from forecasting.direct_use import DirectUse, learn_direct_use, simulate_direct_use
from forecasting.paths import Paths, no_events, seeded
from forecasting.plan_keeping import PlannedStarts
from forecasting.point_forecast import Level
from forecasting.product_outlook import FEW_BATCHES, ProductOutlook

__all__ = ["ItemOutlook", "item_outlooks", "planned_paths", "use_by_batches"]

BY_BATCHES = "batches of its products"
OUTSIDE = "outside batches: counts a week, learned from all items"
AS_IT_FAILS = "each changed as it fails"
FEW_WEEKS = 8
DECIMALS = 9
"""Kept of a difference of uses, so that what cancels out is 0."""


@dataclass(frozen=True)
class Driver:
    """A product that uses the item, stock units per knife and per batch, at one station."""

    product: Hashable
    outlook: ProductOutlook
    per_knife: float
    per_batch: float
    station: Hashable = ""

    def use_until(self, last_day: np.ndarray | float) -> np.ndarray:
        """Stock units up to and including a day, as DailyTotals.until takes and gives them."""
        used = self.per_knife * self.outlook.knives_by_day.until(last_day)
        if self.per_batch:
            used += self.per_batch * self.outlook.batches_by_day.until(last_day)
        return used

    def use_by_week(self) -> np.ndarray:
        """Stock units from today to the end of each week, shape (weeks, paths)."""
        used = self.per_knife * self.outlook.knives_by_week
        if self.per_batch:
            used += self.per_batch * self.outlook.batches_by_week
        return used


@dataclass(frozen=True)
class ItemOutlook:
    """Futures of one item: its products' batches times usage, plus use outside batches.

    scores: losses of the weekly models for use outside batches; direct_level: a week, by the best
    of them. planned: what planned batches take
    above their products' usage, one future for all. changes: of a wearing item, when each is used
    up, by station. real_use: what batches really take over what is reckoned, per path. use_by_week: from today to the end of each week, shape (weeks, paths).
    """

    pattern: DemandPattern
    history_periods: int
    model: str
    scores: dict[str, float]
    direct_level: float
    drivers: tuple[Driver, ...]
    planned: Paths
    direct: Paths
    changes: dict[Hashable, CutterChanges] | None
    real_use: np.ndarray | float
    use_by_week: np.ndarray
    note: str

    def use_until(self, last_day: np.ndarray | float) -> np.ndarray:
        """Stock units used up to and including a day: one for all, or of shape (..., paths)."""
        outside = self.direct.until(last_day)[0]

        def built(drivers: Sequence[Driver], planned: Paths) -> np.ndarray:
            return self.real_use * _built(drivers, planned, last_day, outside.shape)

        return outside + _taken(self.drivers, self.planned, self.changes, built)


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
    stock_outs: pd.DataFrame | None = None,
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
    direct_use = learn_direct_use(direct, as_of, direct_levels, stock_outs)
    drivers: dict[Hashable, list[Driver]] = {item: [] for item in [*items, *usage["item"]]}
    for row in usage.itertuples():
        amounts = row.per_knife, row.per_batch
        driver = Driver(row.product, products[row.product], *amounts, row.station)
        drivers[row.item].append(driver)
    scatter = usage.groupby("item")["scatter"].max().to_dict()
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
        real_use = _real_use(scatter.get(item, 0.0), paths, seeded(seed, "real use", item))
        changes = None
        if item in lives and drivers[item]:
            changes = _station_changes(
                lives[item],
                drivers[item],
                most_used=float(_built(drivers[item], planned, horizon_days, (paths,)).max()),
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
            real_use=real_use,
            use_by_week=_use_by_week(drivers[item], planned, drawn, changes, real_use, week_ends),
            note=_note(drivers[item], planned, outside, len(series)),
        )
    return outlooks


def _real_use(scatter: float, paths: int, rng: np.random.Generator) -> np.ndarray | float:
    """Lognormal around 1, as far apart as the last batches' real use lay around their bills.

    One draw for all batches of a path: where several fall into the lead time, a little too wide.
    """
    if not scatter:
        return 1.0
    variance = np.log1p(scatter**2)
    return rng.lognormal(-variance / 2, np.sqrt(variance), paths)


def _station_changes(
    lives: pd.DataFrame,
    drivers: Sequence[Driver],
    *,
    most_used: float,
    paths: int,
    rng: np.random.Generator,
) -> dict[Hashable, CutterChanges] | None:
    """Changes at each station where the item is used; a station not in `lives` has none fitted."""
    found = {}
    new_ones = lives[(lives["turn"] == 0) & (lives["station"] == lives["station"].iloc[0])]
    for station in dict.fromkeys(driver.station for driver in drivers):
        here = lives[lives["station"] == station]
        changes = simulate_changes(
            here if len(here) else new_ones, most_used=most_used, paths=paths, rng=rng
        )
        if changes is None:
            return None
        found[station] = changes
    return found


def _taken(
    drivers: Sequence[Driver],
    planned: Paths,
    changes: dict[Hashable, CutterChanges] | None,
    built: Callable[[Sequence[Driver], Paths], np.ndarray],
) -> np.ndarray:
    """Stock units taken by batches: what they use, or of cutters those changed at each station."""
    if changes is None:
        return built(drivers, planned)
    taken = []
    for station, each in changes.items():
        here = [driver for driver in drivers if driver.station == station]
        taken.append(each.until(built(here, no_events(1) if taken else planned)))
    return np.sum(taken, axis=0)


def planned_paths(planned_use: pd.DataFrame, starts: PlannedStarts) -> dict[Hashable, Paths]:
    """The table planned_use by item, on the days on which its batches start in each future."""
    futures = {}
    for item, rows in planned_use.groupby("item"):
        day = starts.of(rows["day"])
        qty = np.tile(rows["qty"].to_numpy(), (len(day), 1))
        futures[item] = Paths(day, qty, np.zeros_like(qty))
    return futures


def _built(
    drivers: Iterable[Driver],
    planned: Paths,
    last_day: np.ndarray | float,
    shape: tuple[int, ...],
) -> np.ndarray:
    """Use by batches up to and including a day, shape (..., paths)."""
    used = np.zeros(shape)
    for driver in drivers:
        used += driver.use_until(last_day)
    return _with_planned(used, planned, planned.until(last_day)[0])


def _use_by_week(
    drivers: list[Driver],
    planned: Paths,
    direct: Paths,
    changes: dict[Hashable, CutterChanges] | None,
    real_use: np.ndarray | float,
    week_ends: np.ndarray,
) -> np.ndarray:
    outside = direct.by_day(week_ends)[0]

    def built(drivers: Sequence[Driver], planned: Paths) -> np.ndarray:
        used = np.zeros(outside.shape)
        for driver in drivers:
            used += driver.use_by_week()
        return real_use * _with_planned(used, planned, planned.by_day(week_ends)[0])

    return outside + _taken(drivers, planned, changes, built)


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
    changes: dict[Hashable, CutterChanges] | None,
) -> str:
    parts = [BY_BATCHES] if drivers or planned.day.size else []
    if changes is not None:
        parts.append(AS_IT_FAILS)
    if outside:
        parts.append(OUTSIDE)
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
