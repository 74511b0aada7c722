"""A shop's past played day by day under our reorder points and rivals, lead times as they were."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.exchange_curve import CurvePoint, ExchangeCurve
from forecasting.forecast_tables import COVER_DAYS
from forecasting.ordering_rule import Levels, PlayedMany, play_many
from forecasting.rival_rules import mean_and_deviation, min_max, smoothed_normal

__all__ = ["AS_SET", "CHANCES", "OURS", "Stretch", "play_shop", "shop_curves"]

OURS = "simulated futures"
AS_SET = "simulated futures, each item at its own service level"
SMOOTHED = "normal safety stock on smoothed use"
HALF_YEAR = "normal safety stock on half a year's use"
THUMB = "a rule of thumb, so many times the usual use"
CHANCES = (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.93, 0.95, 0.97, 0.98, 0.99, 0.995)
FACTORS = tuple(np.round(np.linspace(-0.5, 4.5, 13), 2))
TIMES = tuple(np.round(np.geomspace(0.4, 5, 13), 2))
LEVEL_SMOOTHING, ERROR_SMOOTHING = 0.1, 0.1
HALF_YEAR_WEEKS, YEAR_WEEKS = 26, 52
FEW_DELIVERIES = 3
LEAD_DRAWS = 10
"""Times the same days are played, each order with another of the lead times seen."""
COLUMNS = [
    *("item", "rule", "knob", "demand", "fill_rate", "expected_fill"),
    *("mean_stock", "days_short", "orders"),
]


@dataclass(frozen=True)
class Stretch:
    """Days on which the same levels hold: the forecast made before them, and what was used then.

    ladder, items: as in ShopForecast, with CHANCES and every service level of the items in the
    ladder. weeks: (items, weeks) used before, NaN before an item's first use. days: (items, days).
    """

    ladder: pd.DataFrame
    items: pd.DataFrame
    weeks: np.ndarray
    days: np.ndarray


def play_shop(
    items: pd.DataFrame,
    receipts: pd.DataFrame,
    stretches: Sequence[Stretch],
    before: np.ndarray,
    *,
    seed: int = 1,
) -> pd.DataFrame:
    """Every item under every rule at every setting of its knob.

    One row each: item, rule, knob, demand, fill_rate (share served at once), expected_fill (foretold
    by ours, else missing), mean_stock, days_short, orders. Orders are not rounded to packs; each
    takes a lead time drawn from the deliveries seen, the same for all rules.
    before: (items, days) used on the days before the first stretch, which are played by its levels
    but not counted, so that each rule begins with a stock and orders of its own.
    Shapes: items and receipts as in forecasting.frames; stretches in order of days, all rows in the
    order of items.
    """
    game = _Game(items, receipts, tuple(stretches), before, seed)
    rivals = [game.rival(stretch) for stretch in stretches]
    return pd.concat(
        [
            game.table(OURS, CHANCES, [_ladder(each, CHANCES) for each in stretches]),
            game.table(AS_SET, [np.nan], [_as_set(each, items) for each in stretches]),
            *(
                game.table(rule, knobs, [(levels[rule], None) for levels in rivals])
                for rule, knobs in ((SMOOTHED, FACTORS), (HALF_YEAR, FACTORS), (THUMB, TIMES))
            ),
        ],
        ignore_index=True,
    )


@dataclass(frozen=True)
class _Game:
    items: pd.DataFrame
    receipts: pd.DataFrame
    stretches: tuple[Stretch, ...]
    before: np.ndarray
    seed: int

    def rival(self, stretch: Stretch) -> dict[str, Levels]:
        """Levels of every rival from the weeks before a stretch; all order as much as ours do."""
        review = self.items["review_days"].to_numpy()
        lead = stretch.items.set_index("item").loc[self.items["item"], "lead_mean_days"]
        lasts = (lead.to_numpy() + review) / 7
        cover = np.maximum(review, COVER_DAYS) / 7
        weeks, half_year = stretch.weeks, stretch.weeks[:, -HALF_YEAR_WEEKS:]
        smoothing = LEVEL_SMOOTHING, ERROR_SMOOTHING
        return {
            SMOOTHED: smoothed_normal(weeks, lasts, FACTORS, *smoothing, cover=cover),
            HALF_YEAR: mean_and_deviation(half_year, lasts, FACTORS, cover=cover),
            THUMB: min_max(weeks, lasts, TIMES, cover=cover, recent=YEAR_WEEKS),
        }

    def table(
        self,
        rule: str,
        knobs: Sequence[float],
        by_stretch: Sequence[tuple[Levels, np.ndarray | None]],
    ) -> pd.DataFrame:
        """Rows of one rule from its levels, and the fill it foretold, of every stretch."""
        played = self._play([levels for levels, _ in by_stretch])
        told = [fill for _, fill in by_stretch if fill is not None]
        days = [stretch.days.shape[1] for stretch in self.stretches]
        expected = np.average(told, axis=0, weights=days) if told else np.nan
        shape = len(knobs), len(self.items)
        figures = {
            "item": np.broadcast_to(self.items["item"].to_numpy(dtype=object), shape),
            "rule": np.full(shape, rule, dtype=object),
            "knob": np.broadcast_to(np.asarray(knobs, dtype=float)[:, None], shape),
            "demand": played.demand.mean(axis=0),
            "fill_rate": played.fill_rate.mean(axis=0),
            "expected_fill": np.broadcast_to(expected, shape),
            "mean_stock": played.mean_stock.mean(axis=0),
            "days_short": played.periods_short.mean(axis=0),
            "orders": played.orders.mean(axis=0),
        }
        return pd.DataFrame({name: figures[name].ravel() for name in COLUMNS})

    def _play(self, levels: Sequence[Levels]) -> PlayedMany:
        days = [self.before, *(stretch.days for stretch in self.stretches)]
        held = [levels[0], *levels]
        demand = np.hstack(days)
        return play_many(
            demand,
            [level for level, part in zip(held, days, strict=True) for _ in part.T],
            start=levels[0].order_up_to,
            lead=_drawn_leads(self.items, self.receipts, demand.shape[1], self.seed),
            review=np.maximum(self.items["review_days"].round().to_numpy(dtype=int), 1),
            not_counted=self.before.shape[1],
        )


def _ladder(stretch: Stretch, chances: Sequence[float]) -> tuple[Levels, np.ndarray]:
    order = stretch.items["item"]
    point, up_to, fill = (
        stretch.ladder.pivot(index="chance", columns="item", values=name)
        .loc[list(chances), order]
        .to_numpy()
        for name in ("reorder_point", "order_up_to", "expected_fill")
    )
    return Levels(point, up_to), fill


def _as_set(stretch: Stretch, items: pd.DataFrame) -> tuple[Levels, np.ndarray]:
    """What the reorder list would have asked for."""
    point, up_to = (stretch.items[[name]].to_numpy().T for name in ("reorder_point", "order_up_to"))
    asked = items[["item", "service_level"]].rename(columns={"service_level": "chance"})
    fill = asked.merge(stretch.ladder, how="left", on=["item", "chance"])["expected_fill"]
    return Levels(point, up_to), fill.to_numpy()[None]


def _drawn_leads(items: pd.DataFrame, receipts: pd.DataFrame, days: int, seed: int) -> np.ndarray:
    """Days from an order to its delivery, by the day it is placed: (draws, 1, items, days).

    Each is the quote times the lateness of a delivery drawn from those of the item's supplier; from
    all deliveries where its own are fewer than three, as quoted where all are.
    """
    rng = np.random.default_rng(seed)
    lateness = (receipts["actual_days"] / receipts["quoted_days"]).to_numpy()
    own = receipts["supplier"].to_numpy()
    drawn = np.ones((len(items), days, LEAD_DRAWS))
    for row, supplier in enumerate(items["supplier"]):
        seen = lateness[own == supplier]
        seen = seen if len(seen) >= FEW_DELIVERIES else lateness
        if len(seen) >= FEW_DELIVERIES:
            drawn[row] = _spread_over(seen, days, rng)
    leads = drawn * items["lead_days"].to_numpy()[:, None, None]
    return np.maximum(np.rint(leads), 1).astype(int).transpose(2, 0, 1)[:, None]


def _spread_over(seen: np.ndarray, days: int, rng: np.random.Generator) -> np.ndarray:
    """(days, draws): the draws of each day spread evenly over what was seen, in random order."""
    even = (np.arange(LEAD_DRAWS) + rng.random((days, 1))) / LEAD_DRAWS
    return rng.permuted(np.sort(seen)[(even * len(seen)).astype(int)], axis=1)


def shop_curves(
    played: pd.DataFrame, unit_cost: Mapping[Hashable, float]
) -> tuple[ExchangeCurve, ...]:
    """Fill against money on the shelf, each rule over all items that were used and have a cost.

    Fill is the mean over items, each counting alike: a missing screw stops a batch as a bar does.
    """
    known = played[played["item"].isin(list(unit_cost)) & (played["demand"] > 0)]
    money = known["mean_stock"] * known["item"].map(unit_cost).astype(float)
    points = (
        known.assign(money=money)
        .groupby(["rule", "knob"], sort=False, dropna=False)
        .agg(fill=("fill_rate", "mean"), stock=("money", "sum"), told=("expected_fill", "mean"))
        .reset_index()
    )
    return tuple(
        ExchangeCurve(rule, KNOBS[rule], tuple(_point(*row) for row in rows.values.tolist()))
        for rule, rows in (
            (rule, points.loc[points["rule"] == rule, ["knob", "fill", "stock", "told"]])
            for rule in KNOBS
        )
        if len(rows)
    )


def _point(knob: float, fill: float, stock: float, told: float) -> CurvePoint:
    return CurvePoint(knob, fill, stock, None if np.isnan(told) else told)


KNOBS = {
    OURS: "chance of lasting",
    AS_SET: "",
    SMOOTHED: "times the deviation",
    HALF_YEAR: "times the deviation",
    THUMB: "times the usual use",
}
