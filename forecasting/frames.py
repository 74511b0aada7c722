"""Columns, units and checks of the tables that enter a forecast.

    builds    product, day, qty                       one row per batch; knives started
    plan      product, day, qty                       batches still to start, on their planned day
    usage     product, item, per_knife, per_batch     stock units per knife started, per batch
    direct    item, day, qty                          stock units used outside batches
    items     item, supplier, lead_days, review_days, service_level    one row per item
    receipts  supplier, item, quoted_days, actual_days                 one row per delivery line
    wear      item, turn, mean_life, shape, scale, used    equally likely lives of a wearing item: use
              of mean_life counts as one. turn 0: a new one; 1, 2 ...: those that go in before any
              new one, in this order (fitted, reground), with their use so far; as many rows each
    stock_outs  item, week                           weeks (any day of them) with none on the shelf
    planned_use   item, day, qty    stock units that batches of the plan take, by their own choices,
              above what the usage says of them (below 0: less)
    past_plans    late, outcome    one row for each planned batch that was due: days from its planned
              to its real start (below 0: early), to today or to the end of the plan; outcome is
              begun, waiting or given up

Usage and wear may have a column station: where cutters of one item wear apart from each other, each
row of usage names its own. Usage may have a column scatter: how far a batch's real use of the item
lies around what is reckoned, standard deviation as a share of it.
Products, items and suppliers may be numbers or text; days are dates or timestamps.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from forecasting.errors import BadTable

__all__ = ["TABLES", "checked"]


def _filled(column: pd.Series) -> pd.Series:
    return column.notna()


def _above_zero(column: pd.Series) -> pd.Series:
    return np.isfinite(column) & (column > 0)


def _not_negative(column: pd.Series) -> pd.Series:
    return np.isfinite(column) & (column >= 0)


def _finite(column: pd.Series) -> pd.Series:
    return np.isfinite(column)


def _an_outcome(column: pd.Series) -> pd.Series:
    return column.isin(["begun", "waiting", "given up"])


def _between_0_and_1(column: pd.Series) -> pd.Series:
    return (column > 0) & (column < 1)


def _anything(column: pd.Series) -> pd.Series:
    return pd.Series(True, index=column.index)


def _same(column: pd.Series) -> pd.Series:
    return column


def _as_day(column: pd.Series) -> pd.Series:
    return pd.to_datetime(column).dt.tz_localize(None).dt.normalize().astype("datetime64[ns]")


def _as_number(column: pd.Series) -> pd.Series:
    return column.astype(float)


Convert = Callable[[pd.Series], pd.Series]
KEY = (_same, _filled, "be filled")
SUPPLIER = (_same, _anything, "be given")
DAY = (_as_day, _filled, "be a date")
ABOVE_ZERO = (_as_number, _above_zero, "be a number above 0")
AMOUNT = (_as_number, _not_negative, "be a number, 0 or more")
DIFFERENCE = (_as_number, _finite, "be a number")
OUTCOME = (_same, _an_outcome, "be begun, waiting or given up")
SHARE = (_as_number, _between_0_and_1, "lie between 0 and 1 (write 0.95 for 95 %)")

TABLES: dict[str, dict[str, tuple[Convert, Convert, str]]] = {
    "builds": {"product": KEY, "day": DAY, "qty": ABOVE_ZERO},
    "plan": {"product": KEY, "day": DAY, "qty": ABOVE_ZERO},
    "usage": {
        "product": KEY,
        "item": KEY,
        "station": KEY,
        "per_knife": AMOUNT,
        "per_batch": AMOUNT,
        "scatter": AMOUNT,
    },
    "direct": {"item": KEY, "day": DAY, "qty": AMOUNT},
    "items": {
        "item": KEY,
        "supplier": SUPPLIER,
        "lead_days": ABOVE_ZERO,
        "review_days": AMOUNT,
        "service_level": SHARE,
    },
    "receipts": {
        "supplier": SUPPLIER,
        "item": KEY,
        "quoted_days": ABOVE_ZERO,
        "actual_days": AMOUNT,
    },
    "wear": {
        "item": KEY,
        "station": KEY,
        "turn": AMOUNT,
        "mean_life": ABOVE_ZERO,
        "shape": ABOVE_ZERO,
        "scale": ABOVE_ZERO,
        "used": AMOUNT,
    },
    "stock_outs": {"item": KEY, "week": DAY},
    "planned_use": {"item": KEY, "day": DAY, "qty": DIFFERENCE},
    "past_plans": {"late": DIFFERENCE, "outcome": OUTCOME},
}

LEFT_OUT: dict[str, dict[str, Any]] = {
    "usage": {"station": "", "scatter": 0.0},
    "wear": {"station": ""},
}
"""Columns that a table may leave out, and what they hold then."""


def checked(table: str, frame: pd.DataFrame) -> pd.DataFrame:
    """The table with its own columns only, days as Timestamp and numbers as float.

    Raises: BadTable, naming table, column and the first row at fault.
    """
    columns = TABLES[table]
    frame = frame.reset_index(drop=True)
    given = {name: value for name, value in LEFT_OUT.get(table, {}).items() if name not in frame}
    frame = frame.assign(**given)
    missing = [name for name in columns if name not in frame.columns]
    if missing:
        wanted = ", ".join(columns)
        raise BadTable(f"table {table} has no column {', '.join(missing)}; it needs {wanted}")
    tidy = pd.DataFrame({name: _column(table, frame[name], *columns[name]) for name in columns})
    _refuse_second_row(table, tidy)
    return tidy


def _column(
    table: str, column: pd.Series, convert: Convert, holds: Convert, rule: str
) -> pd.Series:
    where = f"table {table}, column {column.name}"
    try:
        converted = convert(column)
    except (TypeError, ValueError, ArithmeticError) as error:
        raise BadTable(f"{where}: every value must {rule} ({error})") from error
    wrong = ~holds(converted).astype(bool)
    if wrong.any():
        row = wrong.idxmax()
        raise BadTable(f"{where}, row {row}: must {rule}, but got {column[row]}")
    return converted


def _refuse_second_row(table: str, tidy: pd.DataFrame) -> None:
    twice = tidy["item"].duplicated() if table == "items" else pd.Series(dtype=bool)
    if twice.any():
        raise BadTable(f"table items lists item {tidy.loc[twice.idxmax(), 'item']} twice; keep one")
