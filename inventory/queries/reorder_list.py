"""What to order now: the last forecast's levels against stock as it is this minute."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum

from forecasting.order_quantity import PackChoice, packs_to_order
from forecasting.reorder_point import Arrival as Due
from forecasting.reorder_point import RunOut, WeekUse, order_by, run_out
from inventory.models import (
    Batch,
    ForecastRun,
    Item,
    ItemForecast,
    Offer,
    OrderLine,
    PurchaseOrder,
    Reservation,
    Shop,
    Snooze,
    Supplier,
)
from inventory.queries.arrivals import Arrival, arrivals_by_item, current_offers
from inventory.queries.availability import Stock, stock_by_item
from inventory.queries.forecast_inputs import is_stale, latest_run
from inventory.queries.order_limits import order_terms
from inventory.queries.reorder_reason import reason

NOTHING = Decimal(0)
SOON = timedelta(days=14)
WORSE = timedelta(days=2)
MEAN, HIGH = 1, 5
"""Places of a week's figures in ItemForecast.weeks: expected, and exceeded once in 20 times."""


@dataclass(frozen=True)
class ReorderLine:
    """One item: its position against its reorder point, in its stock unit.

    position: usable + on order + drafted - what batches in work still hold. choice: packs to
    order of `offer`; None when nobody offers the item. runs_out: with expected and with high use.
    last_qty: of an item that won't be bought again. used_in_time: chance that all of it is used
    before it expires, None for what keeps. comes_late: enough is on order, but stock may run out
    before it is here, and a new order wouldn't come earlier.
    """

    item: Item
    forecast: ItemForecast
    stock: Stock
    position: Decimal
    drafted: Decimal
    offer: Offer | None
    choice: PackChoice | None
    runs_out: RunOut
    order_by: date | None
    arrivals: tuple[Arrival, ...]
    why: str
    last_qty: Decimal | None = None
    used_in_time: float | None = None
    comes_late: bool = False

    @property
    def is_due(self) -> bool:
        """At its reorder point; of what can be bought a last time, whenever some more is needed."""
        if self.last_qty is not None:
            return self.last_qty > 0
        return float(self.position) <= self.forecast.reorder_point

    @property
    def is_out(self) -> bool:
        """Nothing to run out: none is here for what isn't begun yet, and none on order."""
        return self.position - self.drafted <= 0

    @property
    def cost(self) -> Decimal:
        return self.choice.cost + self.offer.lot_charge if self.choice and self.offer else NOTHING


@dataclass(frozen=True)
class SupplierGroup:
    """What to order from one supplier in one go; supplier None: nobody offers these."""

    supplier: Supplier | None
    lines: list[ReorderLine]

    @property
    def goods(self) -> Decimal:
        return sum((line.cost for line in self.lines), NOTHING)

    @property
    def fee(self) -> Decimal:
        return self.supplier.order_fee if self.supplier else NOTHING

    @property
    def total(self) -> Decimal:
        return self.goods + self.fee

    @property
    def order_by(self) -> date | None:
        return min((line.order_by for line in self.lines if line.order_by), default=None)


@dataclass(frozen=True)
class SnoozedLine:
    """A line put aside until a day."""

    line: ReorderLine
    snooze: Snooze


@dataclass(frozen=True)
class ReorderList:
    """Due lines by supplier, lines that come due within two weeks, and the run they rest on.

    asleep: lines of either kind that are put aside. woken: item id -> what they were put aside by,
    of lines that are back before their day because they would run out earlier. every: all lines,
    due or not.
    """

    day: date
    run: ForecastRun | None
    is_stale: bool
    groups: list[SupplierGroup]
    soon: list[ReorderLine]
    asleep: list[SnoozedLine] = field(default_factory=list)
    woken: dict[int, Snooze] = field(default_factory=dict)
    every: list[ReorderLine] = field(default_factory=list)

    @property
    def lines(self) -> list[ReorderLine]:
        return [line for group in self.groups for line in group.lines]

    @property
    def total(self) -> Decimal:
        return sum((group.total for group in self.groups), NOTHING)


def reorder_list(day: date) -> ReorderList:
    """The list for that day; empty without a forecast run."""
    run = latest_run()
    if run is None:
        return ReorderList(day, None, False, [], [])
    lines = reorder_lines(run, day)
    snoozes = {each.item_id: each for each in Snooze.objects.filter(until__gt=day)}
    listed = [line for line in lines if line.is_due or _is_soon(line, day)]
    put_aside = [
        SnoozedLine(line, snoozes[line.item.pk]) for line in listed if line.item.pk in snoozes
    ]
    asleep = [each for each in put_aside if not is_worse(each.line, each.snooze)]
    hidden = {each.line.item.pk for each in asleep}
    shown = [line for line in listed if line.item.pk not in hidden]
    return ReorderList(
        day=day,
        run=run,
        is_stale=is_stale(run),
        groups=_by_supplier([line for line in shown if line.is_due]),
        soon=[line for line in shown if not line.is_due],
        asleep=asleep,
        woken={
            each.line.item.pk: each.snooze for each in put_aside if each.line.item.pk not in hidden
        },
        every=lines,
    )


def _is_soon(line: ReorderLine, day: date) -> bool:
    return line.order_by is not None and line.order_by <= day + SOON


def is_worse(line: ReorderLine, snooze: Snooze) -> bool:
    """Whether a line would run out more than two days earlier than when it was put aside."""
    out = line.runs_out.expected
    if out is None:
        return False
    return snooze.runs_out is None or out < snooze.runs_out - WORSE


def reorder_lines(
    run: ForecastRun, day: date, items: Iterable[int] | None = None
) -> list[ReorderLine]:
    """A line for every item of the run that is used at all, due or not."""
    forecasts = run.items.select_related("item").filter(order_up_to__gt=0)
    if items is not None:
        forecasts = forecasts.filter(item__in=list(items))
    return lines_of(list(forecasts), day)


def lines_of(
    forecasts: list[ItemForecast], day: date, *, price: Decimal | None = None
) -> list[ReorderLine]:
    """A line for each forecast, stored or tried; price: of a pack, in place of the offers' own."""
    ids = [forecast.item_id for forecast in forecasts]
    stock = stock_by_item(day, ids)
    offers = current_offers(day, ids)
    arrivals = arrivals_by_item(day, ids)
    in_work = _held_by_work(ids)
    drafted = _drafted(ids)
    rate = float(Shop.objects.get().holding_rate)
    return [
        _line(
            forecast,
            stock[forecast.item_id],
            in_work.get(forecast.item_id, NOTHING),
            drafted.get(forecast.item_id, NOTHING),
            offers.get(forecast.item_id),
            arrivals.get(forecast.item_id, []),
            rate,
            day,
            price,
        )
        for forecast in forecasts
    ]


def _line(
    forecast: ItemForecast,
    stock: Stock,
    in_work: Decimal,
    drafted: Decimal,
    offer: Offer | None,
    arrivals: list[Arrival],
    holding_rate: float,
    day: date,
    price: Decimal | None,
) -> ReorderLine:
    here = max(stock.usable - in_work, NOTHING)
    position = here + stock.on_order + drafted
    runs_out = _run_out(forecast, here, arrivals, day)
    latest = order_by(runs_out.early, forecast.lead_mean_days)
    is_below = float(position) <= forecast.reorder_point
    comes_late = not is_below and _comes_late(runs_out, latest, arrivals, day)
    if is_below:
        latest = min(latest, day) if latest else day
    choice = last = in_time = None
    if offer is not None:
        terms = order_terms(offer, forecast, position, day, price=price)
        missing = Decimal(str(round(forecast.order_up_to, 6))) - position
        if terms.last_qty is not None:
            missing = last = terms.last_qty
        choice = packs_to_order(
            missing, forecast.use_per_week * 52, terms.pack, holding_rate=holding_rate
        )
        in_time = terms.used_in_time(forecast.item, position, choice.qty)
    return ReorderLine(
        item=forecast.item,
        forecast=forecast,
        stock=stock,
        position=position,
        drafted=drafted,
        offer=offer,
        choice=choice,
        runs_out=runs_out,
        order_by=latest,
        arrivals=tuple(arrivals),
        why=reason(forecast, here, stock, runs_out, latest, comes_late=comes_late),
        last_qty=last,
        used_in_time=in_time,
        comes_late=comes_late,
    )


def _comes_late(runs_out: RunOut, latest: date | None, arrivals: list[Arrival], day: date) -> bool:
    if not arrivals or latest is None or latest >= day:
        return False
    return runs_out.early < arrivals[0].day


def _run_out(forecast: ItemForecast, here: Decimal, arrivals: list[Arrival], day: date) -> RunOut:
    """From today on: the use that the run expected before today is over."""
    weeks = []
    gone_mean = gone_high = 0.0
    for week in forecast.weeks:
        monday = date.fromisoformat(week[0])
        if monday + timedelta(days=7) <= day:
            gone_mean, gone_high = week[MEAN], week[HIGH]
            continue
        weeks.append(WeekUse(monday, week[MEAN] - gone_mean, week[HIGH] - gone_high))
    due = [Due(arrival.day, arrival.qty) for arrival in arrivals]
    return run_out(here, due, weeks, as_of=day)


def _by_supplier(lines: list[ReorderLine]) -> list[SupplierGroup]:
    grouped: dict[Supplier | None, list[ReorderLine]] = defaultdict(list)
    for line in sorted(lines, key=lambda line: (line.order_by or date.max, line.item.code)):
        grouped[line.offer.supplier if line.offer else None].append(line)
    groups = [SupplierGroup(supplier, found) for supplier, found in grouped.items()]
    return sorted(groups, key=lambda group: (group.supplier is None, group.order_by or date.max))


def _held_by_work(ids: list[int]) -> dict[int, Decimal]:
    """Held by batches in work: their use is no longer in the forecast, so it isn't free either.

    Planned and reserved batches are in the forecast already.
    """
    rows = Reservation.objects.filter(is_open=True, item__in=ids, batch__state=Batch.State.IN_WORK)
    return dict(rows.order_by().values_list("item").annotate(Sum("qty")))


def _drafted(ids: list[int]) -> dict[int, Decimal]:
    rows = OrderLine.objects.filter(order__state=PurchaseOrder.State.DRAFT, item__in=ids)
    return dict(rows.order_by().values_list("item").annotate(Sum("qty")))
