"""Use outside batches (repairs, one-offs, samples): futures of single withdrawals."""

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecasting.count_demand import learn_counts
from forecasting.demand import weekly_demand
from forecasting.paths import Paths, no_events
from forecasting.point_forecast import Level, weekly_levels

__all__ = ["DirectUse", "learn_direct_use", "simulate_direct_use"]

PARTNER_CHANCE = 0.5
POISSON = 1.0001


@dataclass(frozen=True)
class DirectUse:
    """What is known about one item's withdrawals.

    level: best weekly model of its class, stock units. sizes: past withdrawals, stock units.
    chance, per_week, dispersion: beliefs about withdrawals a week, variance over mean.
    """

    level: Level
    sizes: np.ndarray
    chance: np.ndarray
    per_week: np.ndarray
    dispersion: np.ndarray


def learn_direct_use(direct: pd.DataFrame, as_of: date) -> dict[Hashable, DirectUse]:
    """Beliefs per item; all series start with the shop's first withdrawal on record.

    Half of the belief goes to the mixture of counts learned across items, half to withdrawals at
    random around the best weekly model: the two together foretold better than either.
    Shapes: direct as in forecasting.frames, none after as_of.
    """
    used = direct[direct["qty"] > 0].groupby(["item", "day"], sort=False)["qty"].sum().reset_index()
    if used.empty:
        return {}
    since = used["day"].min()
    levels = weekly_levels(weekly_demand(used, "item", as_of=as_of, since=since), "item")
    weekly = weekly_demand(used.assign(qty=1.0), "item", as_of=as_of, since=since)
    if weekly.empty:
        return {}
    counts = {item: rows["qty"].to_numpy() for item, rows in weekly.groupby("item", sort=False)}
    beliefs = learn_counts(np.stack(list(counts.values())))
    sizes = {item: rows.to_numpy() for item, rows in used.groupby("item", sort=False)["qty"]}
    return {
        item: DirectUse(
            level=levels[item],
            sizes=sizes[item],
            chance=np.append(beliefs.chance[row] * (1 - PARTNER_CHANCE), PARTNER_CHANCE),
            per_week=np.append(
                beliefs.level[row], levels[item].per_week / float(sizes[item].mean())
            ),
            dispersion=np.append(beliefs.dispersion, POISSON),
        )
        for row, item in enumerate(counts)
    }


def simulate_direct_use(
    use: DirectUse | None, *, horizon_days: int, paths: int, rng: np.random.Generator
) -> Paths:
    """Withdrawals of one item in many futures: negative binomial weeks, sizes as seen."""
    if use is None:
        return no_events(paths)
    cell = rng.choice(len(use.chance), size=paths, p=use.chance)
    excess = use.dispersion[cell] - 1
    weeks = -(-horizon_days // 7)
    shape = np.maximum(use.per_week[cell] / excess, 1e-9)
    counts = rng.poisson(excess[:, None] * rng.gamma(shape[:, None], size=(paths, weeks)))
    return _spread_over_days(counts, use.sizes, rng)


def _spread_over_days(counts: np.ndarray, sizes: np.ndarray, rng: np.random.Generator) -> Paths:
    """Each withdrawal on a random day of its week; one row per path, padded with infinity."""
    per_path = counts.sum(axis=1)
    path = np.repeat(np.arange(len(counts)), per_path)
    place = np.arange(len(path)) - np.repeat(np.cumsum(per_path) - per_path, per_path)
    week = np.repeat(np.tile(np.arange(counts.shape[1]), len(counts)), counts.ravel())
    day = np.full((len(counts), int(per_path.max(initial=0))), np.inf)
    qty = np.zeros_like(day)
    day[path, place] = 7 * week + rng.integers(1, 8, len(path))
    qty[path, place] = rng.choice(sizes, size=len(path))
    return Paths(day, qty, np.zeros_like(day))
