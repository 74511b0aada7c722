"""From dated records to a regular weekly series, weeks without demand filled with zero."""

from datetime import date

import numpy as np
import pandas as pd

__all__ = ["monday_of", "week_number", "weekly_demand"]

FIRST_MONDAY = np.datetime64("1970-01-05", "ns")


def monday_of(day: date) -> pd.Timestamp:
    """Monday of the week the day lies in."""
    stamp = pd.Timestamp(day).normalize()
    return stamp - pd.Timedelta(days=stamp.weekday())


def weekly_demand(
    records: pd.DataFrame,
    key: str,
    *,
    as_of: date,
    since: pd.Timestamp | None = None,
    stock_outs: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """One row per key and complete week, weeks without a record at zero.

    A series starts in the week of its first record, or of `since`; it ends with the last week that
    is over on `as_of`, because a half week looks like falling demand. In a week of stock_outs
    without a record nobody knows what would have been used: NaN.
    Shapes: records has columns key, day, qty; stock_outs key, week (Monday), others are left out;
    the result has key, week (Monday), qty.
    """
    last = week_number(pd.Timestamp(as_of) + pd.Timedelta(days=1)) - 1
    number, names = pd.factorize(records[key])
    week = week_number(records["day"].to_numpy())
    first = np.full(len(names), last + 1)
    np.minimum.at(first, number, week)
    if since is not None:
        first[:] = week_number(since)
    lengths = last + 1 - first
    within = week <= last
    ends = np.cumsum(lengths)
    place = (ends - lengths)[number] + week - first[number]
    total = int(lengths.sum())
    weeks = np.arange(total) + np.repeat(first - (ends - lengths), lengths)
    qty = np.bincount(place[within], records["qty"].to_numpy()[within], total)
    if stock_outs is not None:
        out = stock_outs[stock_outs[key].isin(names)]
        number, week = pd.Index(names).get_indexer(out[key]), week_number(out["week"].to_numpy())
        known = (week >= first[number]) & (week <= last)
        place = ((ends - lengths)[number] + week - first[number])[known]
        qty[place[qty[place] == 0]] = np.nan
    return pd.DataFrame(
        {
            key: np.repeat(np.asarray(names, dtype=object), lengths),
            "week": FIRST_MONDAY + weeks * np.timedelta64(7, "D"),
            "qty": qty,
        }
    )


def week_number(day: np.ndarray | pd.Timestamp) -> np.ndarray:
    """Weeks from the first Monday of 1970 to the week a day lies in."""
    days = np.asarray(day, dtype="datetime64[D]") - FIRST_MONDAY.astype("datetime64[D]")
    return days.astype(int) // 7
