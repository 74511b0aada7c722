"""How often a shelf turns over: what was used against what lay there on average.

Quick on purpose (standard library only): a page asks it.
"""

from dataclasses import dataclass

from forecasting.errors import require

__all__ = ["StockTurns", "stock_turns"]

DAYS_A_YEAR = 365


@dataclass(frozen=True)
class StockTurns:
    """a_year: how many times a year what lies there is used. days: how long it lasts so."""

    a_year: float
    days: float


def stock_turns(used: float, average_stock: float, *, days: float = DAYS_A_YEAR) -> StockTurns:
    """Turns of a stock; both in the same unit, money or pieces.

    Args: used: in that many days, above 0; average_stock: over the same days, above 0.
    Raises: OutOfRange.
    Source: public article "Inventory Turnover vs Days Supply: Key Metrics", as any handbook.
    Checked in: tests/published/test_stock_turns.py
    """
    for name, value in (("used", used), ("average_stock", average_stock), ("days", days)):
        require(value > 0, name, "be above 0", value)
    a_year = used / average_stock * DAYS_A_YEAR / days
    return StockTurns(a_year, DAYS_A_YEAR / a_year)
