"""The shop's past played again: stored replays, and a new one worked out from the records."""

import time
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from django.db import transaction

from inventory.errors import Refused
from inventory.models import Item, ReplayRun, Shop
from inventory.queries.replay_data import shop_replay_data
from inventory.queries.unit_costs import unit_costs
from inventory.queries.usage import usage_by_product

if TYPE_CHECKING:
    import pandas as pd

STATE = ReplayRun.State


@dataclass(frozen=True)
class PlayedPast:
    """What a replay found (keys as in shop_replay_data), and the seconds it took."""

    result: dict[str, Any]
    seconds: float


@dataclass(frozen=True)
class _Records:
    tables: dict[str, "pd.DataFrame"]
    costs: dict[str, float]
    currency: str


def latest_replay() -> ReplayRun | None:
    """The newest whole one."""
    return ReplayRun.objects.filter(state=STATE.DONE).first()


def open_replay() -> ReplayRun | None:
    """The one that waits or is being played; there is at most one."""
    return ReplayRun.objects.filter(state__in=ReplayRun.OPEN).first()


def failed_replay() -> ReplayRun | None:
    """The newest one that ended, when it failed."""
    newest = ReplayRun.objects.exclude(state__in=ReplayRun.OPEN).first()
    return newest if newest is not None and newest.state == STATE.FAILED else None


def play_past(day: date) -> PlayedPast:
    """Play the shop's past again. Refuses a shop without a name or without anything bought."""
    # pandas and what follows take over a second to import: only a replay pays for it, never a page.
    from forecasting.replay import replay_shop

    started = time.monotonic()
    records = _read_records(day)
    replay = replay_shop(**records.tables, as_of=day)
    data = shop_replay_data(replay, records.costs, records.currency)
    return PlayedPast(data, time.monotonic() - started)


@transaction.atomic
def _read_records(day: date) -> _Records:
    """All of it as of one moment; bookings wait for that long, not for the playing."""
    from inventory.queries import history

    shop = Shop.objects.first()
    if shop is None:
        raise Refused("There is no shop yet. Run python3 manage.py start, then name it.")
    items = history.items_to_forecast(day)
    if items.empty:
        raise Refused("There is nothing to play again yet. Enter items and suppliers first.")
    codes = set(items["item"])
    direct = history.direct_use(day, codes)
    costs = unit_costs(Item.objects.filter(code__in=codes), day)
    tables = {
        "builds": history.build_history(day),
        "usage": history.usage_table(usage_by_product(day), codes),
        "direct": direct,
        "stock_outs": history.stock_out_weeks(day, direct),
        "items": items,
        "receipts": history.receipt_history(day),
    }
    return _Records(
        tables, {code: float(cost.amount) for code, cost in costs.items()}, shop.currency
    )
