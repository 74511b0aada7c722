"""The record of an item week by week, for whoever wants to check the forecast by hand."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.exchange.csv_export import csv_response
from inventory.models import Item
from inventory.queries.forecast_inputs import is_stale, newest_forecast
from inventory.queries.time_phased import TimePhased, time_phased
from inventory.units import show_number

WEEKS_ACROSS = 13


@dataclass(frozen=True)
class RecordRow:
    """A row of the record, a number a week. is_sum: it follows from the rows above it."""

    name: str
    numbers: Sequence[Decimal]
    is_sum: bool = False

    @property
    def shown(self) -> list[str]:
        """As people write it down: nothing where nothing happens, but a sum always."""
        return [
            show_number(number).replace("-", "−") if number or self.is_sum else ""
            for number in self.numbers
        ]

    def part(self, start: int, end: int) -> "RecordRow":
        return RecordRow(self.name, self.numbers[start:end], self.is_sum)


def record_page(request: HttpRequest, code: str) -> HttpResponse:
    item = get_object_or_404(Item, code=code)
    forecast = newest_forecast(item)
    if forecast is None:
        raise Http404(f"No forecast of {code} is stored yet.")
    record = time_phased(forecast, timezone.localdate())
    if record is not None and request.GET.get("format") == "csv":
        return csv_response(f"record-{code}", _csv_rows(item, record))
    shown = {
        "heading": f"Record of {item.code}, week by week",
        "item": item,
        "forecast": forecast,
        "is_stale": is_stale(forecast.run),
        "record": record,
    }
    if record is not None:
        shown["blocks"] = _blocks(record)
        shown["arrivals_late"] = [arrival for arrival in record.line.arrivals if arrival.late]
    return render(request, "forecast/record.html", shown)


def _rows(record: TimePhased) -> list[RecordRow]:
    net = record.record
    return [
        RecordRow("Planned batches need", record.planned),
        RecordRow("Other use expected", record.expected),
        RecordRow("Gross need", net.gross, is_sum=True),
        RecordRow("On order, expected in", net.scheduled),
        RecordRow("Stock without new orders", net.balance, is_sum=True),
        RecordRow("Net need", net.net),
        RecordRow("Planned orders in", net.receipts),
        RecordRow("Stock with them", net.projected, is_sum=True),
        RecordRow("Planned orders out", net.releases),
    ]


def _blocks(record: TimePhased) -> list[tuple[Sequence[date], list[RecordRow]]]:
    """The weeks in parts that fit on a sheet of paper."""
    starts = range(0, len(record.weeks), WEEKS_ACROSS)
    return [
        (
            record.weeks[start : start + WEEKS_ACROSS],
            [row.part(start, start + WEEKS_ACROSS) for row in _rows(record)],
        )
        for start in starts
    ]


def _csv_rows(item: Item, record: TimePhased) -> Iterator[tuple]:
    yield (item.code, item.stock_unit, *record.weeks)
    yield ("Here now", record.on_hand)
    yield ("Safety stock", record.safety_stock)
    yield ("Lead time in weeks", record.lead_weeks)
    yield ("Planned orders overdue", record.record.past_due)
    if record.joined is not None:
        yield ("An order costs", record.joined.fee)
        yield ("A pack costs a week on the shelf", round(record.joined.keeping, 4))
    for row in _rows(record):
        yield (row.name, "", *row.numbers)
