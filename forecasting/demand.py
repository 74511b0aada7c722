"""From dated records to a regular weekly series, weeks without demand filled with zero."""

from datetime import date

import pandas as pd

__all__ = ["monday_of", "weekly_demand"]


def monday_of(day: date) -> pd.Timestamp:
    """Monday of the week the day lies in."""
    stamp = pd.Timestamp(day).normalize()
    return stamp - pd.Timedelta(days=stamp.weekday())


def weekly_demand(
    records: pd.DataFrame, key: str, *, as_of: date, since: pd.Timestamp | None = None
) -> pd.DataFrame:
    """One row per key and complete week, weeks without a record at zero.

    A series starts in the week of its first record, or of `since`; it ends with the last week that
    is over on `as_of`, because a half week looks like falling demand.
    Shapes: records has columns key, day, qty; the result has key, week (Monday), qty.
    """
    mondays = records["day"] - pd.to_timedelta(records["day"].dt.weekday, unit="D")
    sums = records["qty"].groupby([records[key], mondays], sort=False).sum()
    end = monday_of(pd.Timestamp(as_of) + pd.Timedelta(days=1)) - pd.Timedelta(weeks=1)
    pieces = [
        _regular(name, weeks.droplevel(0), monday_of(since) if since is not None else None, end)
        for name, weeks in sums.groupby(level=0, sort=False)
    ]
    if not pieces:
        return pd.DataFrame(
            {key: pd.Series(dtype=object), "week": pd.Series(dtype="datetime64[ns]"), "qty": 0.0}
        )
    return pd.concat(pieces, ignore_index=True).rename(columns={"key": key})


def _regular(
    name: object, weeks: pd.Series, start: pd.Timestamp | None, end: pd.Timestamp
) -> pd.DataFrame:
    calendar = pd.date_range(weeks.index.min() if start is None else start, end, freq="7D")
    qty = weeks.reindex(calendar, fill_value=0.0).to_numpy()
    return pd.DataFrame({"key": [name] * len(calendar), "week": calendar, "qty": qty})
