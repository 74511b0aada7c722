"""Demand tables of any origin as regular series: one row per series, one column per period."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.demand import week_number
from forecasting.errors import BadTable, OutOfRange

__all__ = ["FREQUENCIES", "PeriodicDemand", "period_numbers", "periodic_demand", "span_of"]

FREQUENCIES = {"MS": 12, "W-MON": 52}
"""Months, and weeks from Monday: periods in a year."""
ISO_WEEK = r"\d{4}-W\d{2}"
MOST_PERIODS = 2000


@dataclass(frozen=True)
class PeriodicDemand:
    """Demand of many series in periods of one length.

    series: names, ascending. first: number of the first period. qty: (series, periods), NaN before
    the first record of a series and where its demand is not known.
    """

    series: np.ndarray
    first: int
    qty: np.ndarray


def periodic_demand(
    demand: pd.DataFrame,
    freq: str,
    stock_outs: pd.DataFrame | None = None,
    span: tuple[int, int] | None = None,
) -> PeriodicDemand:
    """A table of any origin as regular series, each from its first record to the last period.

    Rows of one series and period are added up; a quantity left empty is not known, and neither is
    that of a period in stock_outs, whatever was recorded then.
    Args: freq: "MS" for months, "W-MON" for weeks from Monday; any day within the period will do.
        span: numbers of the first and last period, when demand is only a part of a table.
    Shapes: demand has columns series_id, period, qty; stock_outs series_id, period.
    Raises: BadTable, naming the first row at fault (counted from 0); OutOfRange.
    """
    _require_columns("demand", demand, ["series_id", "period", "qty"])
    row, names = _numbered_series(demand["series_id"])
    qty = _quantities(demand["qty"])
    period = period_numbers("demand", demand["period"], freq)
    first, last = span or span_of(period)
    matrix = _summed(row, period - first, qty, (len(names), last + 1 - first))
    if stock_outs is not None:
        _forget(matrix, names, first, stock_outs, freq)
    return PeriodicDemand(names, first, matrix)


def period_numbers(table: str, period: pd.Series, freq: str) -> np.ndarray:
    """Months from January 1970, or weeks from its first Monday, of every row.

    Raises: BadTable, OutOfRange.
    """
    if freq not in FREQUENCIES:
        raise OutOfRange(f"freq must be one of {', '.join(FREQUENCIES)}, but got {freq}")
    code, distinct = pd.factorize(period)
    _refuse(table, period, code < 0, "be filled")
    days = _days(pd.Series(distinct))
    _refuse(table, period, days.isna().to_numpy()[code], "be a date, a month or a week")
    stamps = days.to_numpy().astype("datetime64[D]")
    numbers = stamps.astype("datetime64[M]").astype(int) if freq == "MS" else week_number(stamps)
    return numbers[code]


def span_of(period: np.ndarray) -> tuple[int, int]:
    """First and last period of a table; (0, -1) when it has no row. Raises: BadTable."""
    if not len(period):
        return 0, -1
    first, last = int(period.min()), int(period.max())
    if last - first >= MOST_PERIODS:
        row = int(np.argmin(period))
        raise BadTable(
            f"table demand spans {last - first + 1} periods, more than {MOST_PERIODS}; the first is "
            f"in row {row}. Correct its period, or choose longer periods"
        )
    return first, last


def _days(distinct: pd.Series) -> pd.Series:
    """Each as a day, NaT where it is none."""
    if isinstance(distinct.dtype, pd.DatetimeTZDtype):
        return distinct.dt.tz_localize(None)
    if pd.api.types.is_datetime64_dtype(distinct):
        return distinct
    if pd.api.types.is_numeric_dtype(distinct):
        return pd.Series(pd.NaT, index=distinct.index)
    text = distinct.astype(str).str.strip()
    weeks = text.str.fullmatch(ISO_WEEK)
    days = pd.to_datetime(text.mask(weeks), format="ISO8601", errors="coerce")
    mondays = pd.to_datetime(text[weeks] + "-1", format="%G-W%V-%u", errors="coerce")
    return days.where(~weeks, mondays)


def _numbered_series(column: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Place of every row's series, and the names ascending."""
    row, names = pd.factorize(column, sort=True)
    _refuse("demand", column, row < 0, "be filled")
    return row, np.asarray(names)


def _quantities(column: pd.Series) -> np.ndarray:
    qty = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    wrong = np.isinf(qty) | (qty < 0) | (np.isnan(qty) & column.notna().to_numpy())
    _refuse("demand", column, wrong, "be a number, 0 or more, or empty where it is not known")
    return qty


def _summed(
    row: np.ndarray, place: np.ndarray, qty: np.ndarray, shape: tuple[int, int]
) -> np.ndarray:
    matrix = np.bincount(row * shape[1] + place, qty, shape[0] * shape[1]).astype(float)
    matrix = matrix.reshape(shape)
    first = np.full(shape[0], shape[1])
    np.minimum.at(first, row, place)
    matrix[np.arange(shape[1]) < first[:, None]] = np.nan
    return matrix


def _forget(
    matrix: np.ndarray, names: np.ndarray, first: int, stock_outs: pd.DataFrame, freq: str
) -> None:
    _require_columns("stock_outs", stock_outs, ["series_id", "period"])
    row = pd.Index(names).get_indexer(stock_outs["series_id"])
    rule = "be in the table demand; correct the name or leave the row out"
    _refuse("stock_outs", stock_outs["series_id"], row < 0, rule)
    place = period_numbers("stock_outs", stock_outs["period"], freq) - first
    within = (place >= 0) & (place < matrix.shape[1])
    matrix[row[within], place[within]] = np.nan


def _require_columns(table: str, frame: pd.DataFrame, columns: list[str]) -> None:
    missing = [name for name in columns if name not in frame.columns]
    if missing:
        wanted = ", ".join(columns)
        raise BadTable(f"table {table} has no column {', '.join(missing)}; it needs {wanted}")


def _refuse(table: str, column: pd.Series, wrong: np.ndarray, rule: str) -> None:
    if wrong.any():
        row = int(np.argmax(wrong))
        value = column.iloc[row]
        got = "nothing" if pd.isna(value) else value
        raise BadTable(
            f"table {table}, column {column.name}, row {row}: must {rule}, but got {got}"
        )
