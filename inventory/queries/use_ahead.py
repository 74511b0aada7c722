"""Use of an item from a day on, as its stored forecast tells it."""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from forecasting.use_ahead import UseAhead
from inventory.models import Item, ItemForecast

__all__ = ["CHANCES", "UseAhead", "rounded", "use_ahead"]

CHANCES = (0.05, 0.5, 0.8, 0.95)
WEEK = timedelta(days=7)


def use_ahead(forecast: ItemForecast, day: date) -> UseAhead | None:
    """From the stored weeks; what was expected before that day is over. None after the last week."""
    gone = [0.0] * (1 + len(CHANCES))
    days, means, quantiles = [], [], []
    for monday, *used in forecast.weeks:
        end = date.fromisoformat(monday) + WEEK
        if end <= day:
            gone = used
            continue
        left = _ascending(total - before for total, before in zip(used[1:], gone[1:], strict=True))
        days.append(float((end - day).days))
        means.append(max(used[0] - gone[0], 0.0))
        quantiles.append(left)
    return UseAhead(days, means, quantiles, CHANCES) if days else None


def _ascending(values: Iterable[float]) -> list[float]:
    """Differences of quantiles may cross: each is at least the one before."""
    kept: list[float] = []
    for value in values:
        kept.append(max(value, kept[-1] if kept else 0.0))
    return kept


def rounded(qty: float, item: Item) -> Decimal:
    """A quantity worked out, as finely as people measure it: screws whole, the rest to a tenth."""
    places = 0 if item.stock_unit == Item.Unit.EACH else 1
    return Decimal(str(round(max(qty, 0.0), places)))
