"""Demand tables of any origin as regular series: one row per series, one column per period."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.demand import week_number
from forecasting.errors import BadTable, OutOfRange

__all__ = [
    "FREQUENCIES",
    "NO_PERIOD",
    "PeriodicDemand",
    "check_demand",
    "check_stock_outs",
    "periodic_demand",
]

FREQUENCIES = {"MS": 12, "W-MON": 52}
"""Months, and weeks from Monday: periods in a year."""
ISO_WEEK = r"\d{4}-W\d{2}"
MOST_PERIODS = 2000
NO_PERIOD = (0, -1)
"""Span of a table without rows."""


@dataclass(frozen=True)
class PeriodicDemand:
    """Demand of many series in periods of one length.

    series: names, ascending. first: number of the first period. qty: (series, periods), NaN before
    the first record of a series and where its demand is not known.
    """

    series: np.ndarray
    first: int
    qty: np.ndarray

    def of(self, rows: slice | np.ndarray) -> "PeriodicDemand":
        """Some of the series."""
        return PeriodicDemand(self.series[rows], self.first, self.qty[rows])


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
    Raises: BadTable, naming the first row at fault by its index label; OutOfRange.
    """
    row, names, period, qty = _columns(demand, freq)
    first, last = span or _span_of(period, demand.index)
    matrix = _summed(row, period - first, qty, (len(names), last + 1 - first))
    if stock_outs is not None:
        _forget(matrix, names, first, stock_outs, freq)
    return PeriodicDemand(names, first, matrix)


def check_demand(demand: pd.DataFrame, freq: str) -> tuple[int, int]:
    """Span of the table, NO_PERIOD without rows, when every row of it can be used.

    Raises: BadTable, OutOfRange.
    """
    return _span_of(_columns(demand, freq)[2], demand.index)


def check_stock_outs(stock_outs: pd.DataFrame, series: np.ndarray) -> np.ndarray:
    """Place of every row's series. Raises: BadTable for one that is not among them."""
    _require_columns("stock_outs", stock_outs, ["series_id", "period"])
    row = pd.Index(series).get_indexer(stock_outs["series_id"])
    rule = "be in the table demand; correct the name or leave the row out"
    _refuse("stock_outs", stock_outs["series_id"], row < 0, rule)
    return row


def _period_numbers(table: str, period: pd.Series, freq: str) -> np.ndarray:
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


def _span_of(period: np.ndarray, index: pd.Index) -> tuple[int, int]:
    if not len(period):
        return NO_PERIOD
    first, last = int(period.min()), int(period.max())
    if last - first >= MOST_PERIODS:
        raise BadTable(
            f"table demand spans {last - first + 1} periods, more than {MOST_PERIODS}; the first is "
            f"in {_named(index, int(np.argmin(period)))}. Correct its period, or choose longer ones"
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


def _columns(
    demand: pd.DataFrame, freq: str
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Of every row its series' place, period and quantity, and the series' names ascending."""
    _require_columns("demand", demand, ["series_id", "period", "qty"])
    row, names = pd.factorize(demand["series_id"], sort=True)
    _refuse("demand", demand["series_id"], row < 0, "be filled")
    qty = _quantities(demand["qty"])
    return row, np.asarray(names), _period_numbers("demand", demand["period"], freq), qty


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
    row = check_stock_outs(stock_outs, names)
    place = _period_numbers("stock_outs", stock_outs["period"], freq) - first
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
        got = "nothing" if pd.isna(column.iloc[row]) else column.iloc[row]
        where = f"table {table}, column {column.name}, {_named(column.index, row)}"
        raise BadTable(f"{where}: must {rule}, but got {got}")


def _named(index: pd.Index, row: int) -> str:
    """A row by its label, as the index calls it: row 5, line 7."""
    return f"{index.name or 'row'} {index[row]}"
