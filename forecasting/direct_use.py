"""Use outside batches (repairs, one-offs, samples): futures of single withdrawals."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecasting.count_demand import learn_counts, learn_habits
from forecasting.demand import weekly_demand
from forecasting.paths import Paths, no_events
from forecasting.point_forecast import WEEKS_AHEAD, Level, weekly_levels

__all__ = ["DirectUse", "learn_direct_use", "simulate_direct_use"]


@dataclass(frozen=True)
class DirectUse:
    """What is known about one item's withdrawals.

    level: best weekly model of its class, stock units, to compare with. sizes: past withdrawals,
    stock units. chance, per_week, dispersion: beliefs about withdrawals a week, variance over mean.
    """

    level: Level
    sizes: np.ndarray
    chance: np.ndarray
    per_week: np.ndarray
    dispersion: np.ndarray


def learn_direct_use(
    direct: pd.DataFrame,
    as_of: date,
    levels: Mapping[Hashable, Level] | None = None,
    stock_outs: pd.DataFrame | None = None,
) -> dict[Hashable, DirectUse]:
    """Beliefs per item; all series start with the shop's first withdrawal on record.

    Withdrawals a week are a mixture of counts learned across items, as in forecasting.sum_quantiles:
    the best of what was compared on spare parts. With levels known already, of those items alone.
    Weeks without stock and without use are not known.
    Shapes: direct and stock_outs as in forecasting.frames, none after as_of.
    """
    used = direct[direct["qty"] > 0].groupby(["item", "day"], sort=False)["qty"].sum().reset_index()
    if used.empty:
        return {}
    begun = {"as_of": as_of, "since": used["day"].min(), "stock_outs": stock_outs}
    if levels is None:
        levels = weekly_levels(weekly_demand(used, "item", **begun), "item")
    weekly = weekly_demand(used.assign(qty=1.0), "item", **begun)
    if weekly.empty:
        return {}
    counts = {item: rows["qty"].to_numpy() for item, rows in weekly.groupby("item", sort=False)}
    table = np.stack(list(counts.values()))
    beliefs = learn_counts(table, learn_habits(table, WEEKS_AHEAD))
    sizes = {item: rows.to_numpy() for item, rows in used.groupby("item", sort=False)["qty"]}
    return {
        item: DirectUse(
            level=levels[item],
            sizes=sizes[item],
            chance=beliefs.chance[row],
            per_week=beliefs.level[row],
            dispersion=beliefs.dispersion,
        )
        for row, item in enumerate(counts)
        if item in levels
    }


def simulate_direct_use(
    use: DirectUse | None, *, horizon_days: int, paths: int, rng: np.random.Generator
) -> Paths:
    """Withdrawals of one item in many futures, sizes as seen.

    A negative binomial week is a Poisson number of clusters with a logarithmic number of
    withdrawals each; a cluster falls on one day and its withdrawals are alike.
    Source: Quenouille (1949), A relation between the logarithmic, Poisson and negative binomial
        series, Biometrics 5 | from memory.
    """
    if use is None:
        return no_events(paths)
    cell = rng.choice(len(use.chance), size=paths, p=use.chance)
    spread = use.dispersion[cell]
    clusters_per_week = use.per_week[cell] * np.log(spread) / (spread - 1)
    clusters = rng.poisson(clusters_per_week * horizon_days / 7)
    shape = paths, int(clusters.max(initial=0))
    happens = np.arange(shape[1]) < clusters[:, None]
    day = np.where(happens, rng.integers(1, horizon_days + 1, shape), np.inf)
    qty = np.zeros(shape)
    drawn = rng.choice(use.sizes, size=int(clusters.sum()))
    qty[happens] = drawn * rng.logseries(np.repeat(1 - 1 / spread, clusters))
    return Paths(day, qty, np.zeros(shape))
