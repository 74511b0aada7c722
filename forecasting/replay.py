"""The past played again: what would have been forecast and ordered, against what happened."""

from collections.abc import Hashable
from dataclasses import astuple, dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecasting.accuracy import quantile_summary
from forecasting.demand import monday_of
from forecasting.errors import require
from forecasting.forecast_tables import COVER_DAYS
from forecasting.frames import checked
from forecasting.item_outlook import use_by_batches
from forecasting.ordering_rule import Levels, Played, play
from forecasting.plan import ShopForecast, forecast_shop
from forecasting.reorder_point import reorder_point, safety_factor

__all__ = ["Replay", "replay_shop"]

STEP_WEEKS = 4
TEXTBOOK_SPAN = pd.Timedelta(weeks=26)
ALL_QUANTILES = ["q05", "q50", "q80", "q95"]
JUDGED = {"q50": 0.5, "q80": 0.8, "q95": 0.95}
ORDER_COLUMNS = [
    *("item", "rule", "demand", "fill_rate"),
    *("mean_stock", "mean_waiting", "days_short", "orders"),
]


@dataclass(frozen=True)
class Replay:
    """Forecasts made every four weeks of the past, and the orders they would have led to.

    forecasts: item, demand_class, origin, mean, q05, q50, q80, q95, actual; use in the
        weeks_ahead weeks after origin. Bills of materials are those of today, planned batches are
        left out because plans of the past are not on record.
    accuracy: demand_class ("all" last), quantile, chance, forecasts, below, below_or_at, loss.
    orders: item, rule ("simulated" or "textbook"), demand, fill_rate, mean_stock, mean_waiting,
        days_short, orders; from the first origin to the end, with the mean lead time known at the
        first origin, quantities not rounded to packs.
    """

    forecasts: pd.DataFrame
    accuracy: pd.DataFrame
    orders: pd.DataFrame


def replay_shop(
    builds: pd.DataFrame,
    usage: pd.DataFrame,
    direct: pd.DataFrame,
    items: pd.DataFrame,
    receipts: pd.DataFrame,
    *,
    as_of: date,
    rounds: int = 6,
    weeks_ahead: int = 8,
    paths: int = 500,
    seed: int = 1,
) -> Replay:
    """Forecast again as of `rounds` Sundays, four weeks apart, the last weeks_ahead before as_of.

    Receipts count from the first day, since they carry no date of their own.
    Shapes: tables as in forecasting.frames. Raises: BadTable, OutOfRange.
    """
    require(rounds >= 1, "rounds", "be 1 or more", rounds)
    require(weeks_ahead >= 1, "weeks_ahead", "be 1 or more", weeks_ahead)
    builds, usage, direct, items = (
        checked(*table)
        for table in (("builds", builds), ("usage", usage), ("direct", direct), ("items", items))
    )
    used = _daily_use(builds, usage, direct)
    last = monday_of(as_of) - pd.Timedelta(days=1 + 7 * weeks_ahead)
    origins = [last - pd.Timedelta(weeks=STEP_WEEKS * back) for back in reversed(range(rounds))]
    shops = {
        origin: forecast_shop(
            builds,
            builds.iloc[:0],
            usage,
            direct,
            items,
            receipts,
            as_of=origin.date(),
            horizon_weeks=weeks_ahead + 1,
            paths=paths,
            seed=seed,
        )
        for origin in origins
    }
    forecasts = pd.concat(
        [_forecasts(shop, origin, used, weeks_ahead) for origin, shop in shops.items()],
        ignore_index=True,
    )
    return Replay(
        forecasts=forecasts,
        accuracy=quantile_summary(forecasts, "demand_class", JUDGED),
        orders=_orders(items, shops, used, last + pd.Timedelta(weeks=weeks_ahead)),
    )


def _daily_use(builds: pd.DataFrame, usage: pd.DataFrame, direct: pd.DataFrame) -> pd.DataFrame:
    """Use per day (rows) and item (columns) as the present usage would have caused it."""
    records = pd.concat([use_by_batches(builds, usage), direct[direct["qty"] > 0]])
    return records.pivot_table(index="day", columns="item", values="qty", aggfunc="sum")


def _between(
    used: pd.DataFrame, item: Hashable, after: pd.Timestamp, up_to: pd.Timestamp
) -> np.ndarray:
    days = pd.date_range(after + pd.Timedelta(days=1), up_to)
    if item not in used:
        return np.zeros(len(days))
    return used[item].reindex(days).fillna(0.0).to_numpy()


def _forecasts(
    shop: ShopForecast, origin: pd.Timestamp, used: pd.DataFrame, weeks_ahead: int
) -> pd.DataFrame:
    table = shop.item_weeks[shop.item_weeks["week"] == shop.item_weeks["week"].max()]
    table = table.merge(shop.items[["item", "demand_class"]], on="item").assign(origin=origin)
    end = origin + pd.Timedelta(weeks=weeks_ahead)
    table["actual"] = [_between(used, item, origin, end).sum() for item in table["item"]]
    return table[["item", "demand_class", "origin", "mean", *ALL_QUANTILES, "actual"]]


def _orders(
    items: pd.DataFrame,
    shops: dict[pd.Timestamp, ShopForecast],
    used: pd.DataFrame,
    end: pd.Timestamp,
) -> pd.DataFrame:
    origins = list(shops)
    ends = [*origins[1:], end]
    tables = [shop.items.set_index("item") for shop in shops.values()]
    rows = []
    for term in items.itertuples():
        days = [
            _between(used, term.item, after, up_to)
            for after, up_to in zip(origins, ends, strict=True)
        ]
        simulated = [_simulated(table.loc[term.item]) for table in tables]
        textbook = [
            _textbook(_between(used, term.item, origin - TEXTBOOK_SPAN, origin), term, table)
            for origin, table in zip(origins, tables, strict=True)
        ]
        lead = round(tables[0].loc[term.item, "lead_mean_days"])
        for rule, levels in (("simulated", simulated), ("textbook", textbook)):
            played = _play_item(days, levels, lead, max(1, round(term.review_days)))
            rows.append((term.item, rule, float(sum(map(np.sum, days))), *astuple(played)))
    return pd.DataFrame(rows, columns=ORDER_COLUMNS)


def _simulated(row: pd.Series) -> Levels:
    return Levels(row["reorder_point"], row["order_up_to"])


def _textbook(past: np.ndarray, term: tuple, table: pd.DataFrame) -> Levels:
    """Normal use over lead time and review, mean and spread of the last half year's weeks."""
    weeks = past.reshape(-1, 7).sum(axis=1)
    protection = (table.loc[term.item, "lead_mean_days"] + term.review_days) / 7
    point = reorder_point(
        float(weeks.mean()),
        float(weeks.std(ddof=1)),
        protection,
        z=safety_factor(term.service_level),
    )
    return Levels(point, point + float(weeks.mean()) * max(term.review_days, COVER_DAYS) / 7)


def _play_item(days: list[np.ndarray], levels: list[Levels], lead: int, review: int) -> Played:
    daily = [level for level, part in zip(levels, days, strict=True) for _ in part]
    demand = np.concatenate(days).tolist()
    return play(demand, daily, start=levels[0].order_up_to, lead=lead, review=review)
