"""The past played again: what would have been forecast and ordered, against what happened."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecasting.accuracy import quantile_summary
from forecasting.demand import monday_of
from forecasting.errors import require
from forecasting.exchange_curve import ExchangeCurve
from forecasting.frames import checked
from forecasting.item_outlook import use_by_batches
from forecasting.plan import ShopForecast, forecast_shop
from forecasting.shop_game import CHANCES, Stretch, play_shop, shop_curves

__all__ = ["Replay", "replay_shop"]

STEP_WEEKS = 4
ALL_QUANTILES = ["q05", "q50", "q80", "q95"]
JUDGED = {"q50": 0.5, "q80": 0.8, "q95": 0.95}
BEFORE_WEEKS = 12
"""Played but not counted before the first forecast; longer than nearly all deliveries take."""
DAY, WEEK = pd.Timedelta(days=1), pd.Timedelta(weeks=1)


@dataclass(frozen=True)
class Replay:
    """Forecasts made every four weeks of the past, and the orders they would have led to.

    forecasts: item, demand_class, origin, mean, q05, q50, q80, q95, actual; use in the
        weeks_ahead weeks after origin. Bills of materials are those of today, planned batches are
        left out because plans of the past are not on record.
    accuracy: demand_class ("all" last), quantile, chance, forecasts, below, below_or_at, loss.
    played: every item under our levels and rivals, columns as in forecasting.shop_game.play_shop;
        from first_day to last_day, levels renewed every four weeks.
    """

    forecasts: pd.DataFrame
    accuracy: pd.DataFrame
    played: pd.DataFrame
    first_day: date
    last_day: date

    def curves(self, unit_cost: Mapping[Hashable, float]) -> tuple[ExchangeCurve, ...]:
        """Fill against money on the shelf, of the items whose cost is known."""
        return shop_curves(self.played, unit_cost)


def replay_shop(
    builds: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    items: pd.DataFrame,
    receipts: pd.DataFrame,
    *,
    stock_outs: pd.DataFrame | None = None,
    as_of: date,
    rounds: int = 6,
    weeks_ahead: int = 8,
    paths: int = 500,
    seed: int = 1,
) -> Replay:
    """Forecast again as of `rounds` Sundays, four weeks apart, the last weeks_ahead before as_of.

    Then order from the first of them to the end, by levels renewed every four weeks.
    Receipts count from the first day, since they carry no date of their own; weeks of stock_outs
    are known once they are over.
    Shapes: tables as in forecasting.frames. Raises: BadTable, OutOfRange.
    """
    require(rounds >= 1, "rounds", "be 1 or more", rounds)
    require(weeks_ahead >= 1, "weeks_ahead", "be 1 or more", weeks_ahead)
    builds, usage, direct, items, receipts = (
        checked(*table)
        for table in (
            ("builds", builds),
            ("usage", usage),
            ("direct", direct),
            ("items", items),
            ("receipts", receipts),
        )
    )
    if stock_outs is not None:
        stock_outs = checked("stock_outs", stock_outs)
    end = monday_of(as_of) - DAY
    last = end - weeks_ahead * WEEK
    origins = [last - STEP_WEEKS * back * WEEK for back in reversed(range(rounds))]
    used = _daily_use(builds, usage, direct, items["item"], (origins[0] - BEFORE_WEEKS * WEEK, end))
    chances = sorted({*CHANCES, *items["service_level"]})
    shops = {
        origin: forecast_shop(
            builds,
            builds.iloc[:0],
            usage,
            direct,
            items,
            receipts,
            stock_outs=None if stock_outs is None else stock_outs[stock_outs["week"] < origin],
            chances=chances,
            as_of=origin.date(),
            horizon_weeks=weeks_ahead + 1,
            paths=paths,
            seed=seed,
        )
        for origin in [*origins, *_later(last, end)]
    }
    forecasts = pd.concat(
        [_forecasts(shops[origin], origin, used, weeks_ahead) for origin in origins],
        ignore_index=True,
    )
    return Replay(
        forecasts=forecasts,
        accuracy=quantile_summary(forecasts, "demand_class", JUDGED),
        played=play_shop(
            items,
            receipts,
            _stretches(shops, used, end),
            _between(used, origins[0] - BEFORE_WEEKS * WEEK, origins[0]),
            seed=seed,
        ),
        first_day=(origins[0] + DAY).date(),
        last_day=end.date(),
    )


def _later(last: pd.Timestamp, end: pd.Timestamp) -> list[pd.Timestamp]:
    """Days after the last forecast that is judged, on which levels are renewed all the same."""
    days = []
    while (last := last + STEP_WEEKS * WEEK) < end:
        days.append(last)
    return days


def _daily_use(
    builds: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    items: pd.Series,
    at_least: tuple[pd.Timestamp, pd.Timestamp],
) -> pd.DataFrame:
    """Use on every day (rows) of every item (columns) as the present usage would have caused it."""
    records = pd.concat([use_by_batches(builds, usage), direct[direct["qty"] > 0]])
    used = records.pivot_table(index="day", columns="item", values="qty", aggfunc="sum")
    days = pd.date_range(min([at_least[0] + DAY, *used.index[:1]]), at_least[1])
    return used.reindex(index=days, columns=items).fillna(0.0).astype(float)


def _between(used: pd.DataFrame, after: pd.Timestamp, up_to: pd.Timestamp) -> np.ndarray:
    """Use of every item (rows) on the days after one day, up to and including another."""
    return used.loc[after + DAY : up_to].to_numpy().T


def _forecasts(
    shop: ShopForecast, origin: pd.Timestamp, used: pd.DataFrame, weeks_ahead: int
) -> pd.DataFrame:
    table = shop.item_weeks[shop.item_weeks["week"] == shop.item_weeks["week"].max()]
    table = table.merge(shop.items[["item", "demand_class"]], on="item").assign(origin=origin)
    actual = _between(used, origin, origin + weeks_ahead * WEEK).sum(axis=1)
    table["actual"] = table["item"].map(dict(zip(used.columns, actual, strict=True)))
    return table[["item", "demand_class", "origin", "mean", *ALL_QUANTILES, "actual"]]


def _stretches(
    shops: dict[pd.Timestamp, ShopForecast], used: pd.DataFrame, end: pd.Timestamp
) -> list[Stretch]:
    ends = [*list(shops)[1:], end]
    return [
        Stretch(shop.ladder, shop.items, _weeks_up_to(used, origin), _between(used, origin, up_to))
        for (origin, shop), up_to in zip(shops.items(), ends, strict=True)
    ]


def _weeks_up_to(used: pd.DataFrame, sunday: pd.Timestamp) -> np.ndarray:
    """Use of every item in each whole week up to a Sunday; not known before its first use."""
    days = used.loc[:sunday].to_numpy().T
    weeks = days.shape[1] // 7
    if not weeks:
        return np.full((len(days), 1), np.nan)
    amounts = days[:, days.shape[1] - 7 * weeks :].reshape(len(days), weeks, 7).sum(axis=2)
    return np.where(np.cumsum(amounts, axis=1) > 0, amounts, np.nan)
