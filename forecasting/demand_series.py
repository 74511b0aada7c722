"""Demand tables of any origin as regular series: one row per series and period, holes filled."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from forecasting.errors import BadTable, require

__all__ = ["DemandSeries", "demand_series"]

ISO_WEEK = r"\d{4}-W\d{2}"
MONTH = r"\d{4}-\d{2}"
DAY = r"\d{4}-\d{2}-\d{2}"
NUMBER = r"\d{1,6}"
FIRST_LINE = 2
"""Line of the first row in a file with its header on line 1."""
MOST_PERIODS = 10_000


@dataclass(frozen=True)
class DemandSeries:
    """Demand per series (rows) and period (columns); NaN where it is not known.

    Not known are the periods before a series' first row and those whose quantity is left empty; a
    period without a row after that had no demand. Rows of one series and period are added up, as
    single orders come. unit_cost: one per series, None without a column.
    """

    names: list[str]
    periods: list[str]
    demand: np.ndarray
    unit_cost: np.ndarray | None


def demand_series(table: pd.DataFrame) -> DemandSeries:
    """Read the columns series_id, period (or month), qty and, if there, unit_cost.

    Periods are months (2026-03), weeks (2026-W09), days that are first of a month or all one
    weekday, or plain numbers. Every cell may be text, as a file has it.
    Raises: BadTable, naming the line (the header is line 1) and what to write.
    """
    table = table.reset_index(drop=True).rename(columns={"month": "period"})
    missing = [name for name in ("series_id", "period", "qty") if name not in table.columns]
    if missing:
        raise BadTable(
            f"The table has no column {', '.join(missing)}. It needs series_id, period (or month) "
            "and qty; unit_cost may be added."
        )
    if table.columns.duplicated().any():
        raise BadTable("A column stands twice in the table. Keep one of each name.")
    if table.empty:
        raise BadTable("The table has no rows. Write one row per series and period.")
    names = table["series_id"].astype("string").str.strip()
    _refuse(names.isna() | (names == ""), table["series_id"], "series_id must be filled")
    qty = _amounts(table["qty"], "qty", may_be_empty=True)
    number, label = _numbered(table["period"].astype("string").str.strip())
    row, known_names = pd.factorize(names)
    place = number - number.min()
    span = int(place.max()) + 1
    require(span <= MOST_PERIODS, "periods", f"span no more than {MOST_PERIODS}", span)
    demand = np.zeros((len(known_names), span))
    np.add.at(demand, (row, place), qty)
    first = np.full(len(known_names), span)
    np.minimum.at(first, row, place)
    demand[np.arange(span) < first[:, None]] = np.nan
    return DemandSeries(
        names=[str(name) for name in known_names],
        periods=[label(int(number.min()) + step) for step in range(span)],
        demand=demand,
        unit_cost=_unit_costs(table, row, len(known_names)),
    )


def _amounts(column: pd.Series, name: str, *, may_be_empty: bool) -> np.ndarray:
    text = column.astype("string").str.strip()
    empty = text.isna() | (text == "")
    if not may_be_empty:
        _refuse(empty, column, f"{name} must be filled")
    amount = pd.to_numeric(text.mask(empty), errors="coerce").astype(float)
    wrong = (~empty & ~np.isfinite(amount)) | (amount < 0)
    _refuse(wrong, column, f"{name} must be a number, 0 or more, with a point for decimals")
    return amount.to_numpy()


def _unit_costs(table: pd.DataFrame, row: np.ndarray, count: int) -> np.ndarray | None:
    """The cost on the last row of each series counts."""
    if "unit_cost" not in table.columns:
        return None
    cost = np.zeros(count)
    cost[row] = _amounts(table["unit_cost"], "unit_cost", may_be_empty=False)
    return cost


def _refuse(wrong: pd.Series, column: pd.Series, rule: str) -> None:
    if wrong.any():
        at = int(np.flatnonzero(wrong.to_numpy())[0])
        got = "nothing" if pd.isna(column[at]) or column[at] == "" else column[at]
        raise BadTable(f"Line {at + FIRST_LINE}: {rule}, but it has {got}. Correct it there.")


def _numbered(period: pd.Series) -> tuple[np.ndarray, Callable[[int], str]]:
    """Each period as a whole number one apart from the next, and how to write a number again."""
    _refuse(period.isna() | (period == ""), period, "period must be filled")
    code, distinct = pd.factorize(period)
    texts = pd.Series(distinct, dtype="string")
    for form, read, write in FORMS:
        if texts.str.fullmatch(form).all():
            return np.array([_read(read, text, period) for text in texts])[code], write
    if texts.str.fullmatch(DAY).all():
        days = [date.fromordinal(_read(_ordinal, text, period)) for text in texts]
        if all(day.day == 1 for day in days):
            return np.array([_month_number(day.isoformat()) for day in days])[code], _month
        if len({day.weekday() for day in days}) == 1:
            return np.array([day.toordinal() // 7 for day in days])[code], _week
    known = r"|".join((MONTH, ISO_WEEK, DAY, NUMBER))
    odd = ~period.str.fullmatch(known)
    _refuse(odd, period, "period must be a month (2026-03), a week (2026-W09), a day or a number")
    raise BadTable(
        "The periods are not of one kind. Write all of them as months (2026-03), as weeks "
        "(2026-W09 or the day each begins, always the same weekday), or as plain numbers."
    )


def _read(read: Callable[[str], int], text: str, period: pd.Series) -> int:
    try:
        return read(text)
    except ValueError:
        _refuse(period == text, period, "there is no such period")
        raise


def _ordinal(text: str) -> int:
    return date.fromisoformat(text).toordinal()


def _month_number(text: str) -> int:
    day = date(int(text[:4]), int(text[5:7]), 1)
    return 12 * day.year + day.month - 1


def _month(number: int) -> str:
    return f"{number // 12:04d}-{number % 12 + 1:02d}"


def _week_number(text: str) -> int:
    return date.fromisocalendar(int(text[:4]), int(text[6:]), 1).toordinal() // 7


def _week(number: int) -> str:
    year, week, _ = date.fromordinal(7 * number + 1).isocalendar()
    return f"{year:04d}-W{week:02d}"


FORMS = ((NUMBER, int, str), (MONTH, _month_number, _month), (ISO_WEEK, _week_number, _week))
