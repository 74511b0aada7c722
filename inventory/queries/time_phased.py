"""The time-phased record of an item: need, receipts, stock and orders, week by week, to check by hand."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_CEILING, Decimal

from forecasting.netting import (
    LotRule,
    NettingRecord,
    lot_for_lot,
    net_requirements,
    record_of,
    whole_packs,
)
from inventory.models import Batch, BatchLine, Item, ItemForecast, Offer
from inventory.queries.joined_weeks import JoinedWeeks, joined_weeks
from inventory.queries.reorder_list import ReorderLine, lines_of
from inventory.queries.use_ahead import use_ahead

WEEK = timedelta(days=7)
NOTHING = Decimal(0)
BY_TENTHS = (Item.Unit.GRAM, Item.Unit.ML)


@dataclass(frozen=True)
class TimePhased:
    """The record; every row has one number a week, in stock units, and the rows add up.

    weeks: their Mondays. planned: need of batches still to start. expected: other use expected.
    record: netting of both against what is here and on order. lead_weeks: whole weeks, up.
    joined: why weeks are ordered at once; None when each is ordered for itself.
    """

    line: ReorderLine
    weeks: tuple[date, ...]
    on_hand: Decimal
    planned: tuple[Decimal, ...]
    expected: tuple[Decimal, ...]
    record: NettingRecord
    lead_weeks: int
    safety_stock: Decimal
    joined: JoinedWeeks | None


def time_phased(forecast: ItemForecast, day: date) -> TimePhased | None:
    """From that day on; None when nothing is forecast or the last week told is over."""
    ahead = use_ahead(forecast, day)
    if ahead is None or not forecast.is_used:
        return None
    (line,) = lines_of([forecast], day)
    weeks = _mondays(day, len(ahead.days))
    total = _amounts(ahead.means, forecast.item)
    planned = _planned(forecast, weeks, total)
    expected = tuple(need - firm for need, firm in zip(total, planned, strict=True))
    lead_weeks = math.ceil(forecast.lead_mean_days / 7)
    safety = _measured(forecast.safety_stock, forecast.item, up=True)
    on_hand = line.position - line.stock.on_order - line.drafted
    stand = {"on_hand": on_hand, "lead": lead_weeks, "safety_stock": safety}
    scheduled = _scheduled(line, weeks)
    record = net_requirements(total, scheduled, **stand, lot_rule=_lot_rule(line.offer))
    joined = joined_weeks(
        record,
        line.offer,
        safety_stock=safety,
        weeks=weeks,
        ahead=ahead,
        lead_days=forecast.lead_mean_days,
    )
    if joined is not None:
        receipts = [packs * line.offer.pack_qty for packs in joined.packs]
        record = record_of(total, scheduled, receipts, **stand)
    return TimePhased(line, weeks, on_hand, planned, expected, record, lead_weeks, safety, joined)


def _mondays(day: date, count: int) -> tuple[date, ...]:
    first = day - timedelta(days=day.weekday())
    return tuple(first + number * WEEK for number in range(count))


def _amounts(totals: Sequence[float], item: Item) -> tuple[Decimal, ...]:
    """Differences of the rounded running total, so that no week's rounding adds up to more."""
    running = [NOTHING, *(_measured(total, item) for total in totals)]
    return tuple(now - before for before, now in zip(running, running[1:], strict=False))


def _planned(
    forecast: ItemForecast, weeks: Sequence[date], total: Sequence[Decimal]
) -> tuple[Decimal, ...]:
    """What batches still to start take, in the week they start; overdue ones in the first.

    By the use a knife of the forecast, never more than the week's whole use: the forecast knows
    which choices a batch is built in, and what is left over of a batch.
    """
    lines = BatchLine.objects.filter(
        batch__state__in=[Batch.State.PLANNED, Batch.State.RESERVED],
        product__code__in=list(forecast.per_knife),
    )
    taken: dict[date, float] = defaultdict(float)
    for code, start_on, knives in lines.values_list(
        "product__code", "batch__start_on", "start_qty"
    ):
        monday = max(start_on - timedelta(days=start_on.weekday()), weeks[0])
        taken[monday] += knives * forecast.per_knife[code]
    return tuple(
        min(_measured(taken[monday], forecast.item), need)
        for monday, need in zip(weeks, total, strict=True)
    )


def _scheduled(line: ReorderLine, weeks: Sequence[date]) -> tuple[Decimal, ...]:
    """Open orders in the week they are expected; overdue ones are expected later, not now."""
    due: dict[date, Decimal] = defaultdict(Decimal)
    for arrival in line.arrivals:
        due[arrival.day - timedelta(days=arrival.day.weekday())] += arrival.qty
    return tuple(due[monday] for monday in weeks)


def _lot_rule(offer: Offer | None) -> LotRule:
    return whole_packs(offer.pack_qty, offer.minimum_packs) if offer else lot_for_lot


def _measured(qty: float, item: Item, *, up: bool = False) -> Decimal:
    """As finely as a person writes it down: g and mL to a tenth, the rest whole."""
    step = Decimal("0.1") if item.stock_unit in BY_TENTHS else Decimal(1)
    exact = Decimal(str(round(qty, 6)))
    return exact.quantize(step, ROUND_CEILING) if up else exact.quantize(step)
