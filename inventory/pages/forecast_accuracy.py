"""How good the forecasts were: kept scores over the shop, by stretch, and of each item."""

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.models import ForecastScore
from inventory.pages import display
from inventory.pages.columns import LEAD, NUMBER, TextColumn
from inventory.pages.table_page import TablePage
from inventory.queries.forecast_accuracy import (
    FAILS,
    HOLDS,
    ItemAccuracy,
    item_accuracy,
    runs_kept,
    shop_accuracy,
)

MARKS = {FAILS: "stop", HOLDS: "good"}
AHEAD = ForecastScore.Ahead


class RatioColumn(tables.Column):
    """An error or a loss in usual changes, to two places."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(attrs=NUMBER, default="", **kwargs)

    def render(self, value: float) -> str:
        return f"{value:.2f}"

    def value(self, value: float) -> float:
        return round(value, 4)


class ItemAccuracyTable(tables.Table):
    item = TextColumn(
        accessor="item__code",
        verbose_name="Item",
        linkify=lambda record: f"{reverse('forecast-item', args=[record.item.code])}#accuracy",
    )
    name = TextColumn(accessor="item__name", verbose_name="Name", attrs=LEAD)
    verdict = TextColumn(verbose_name="Its range", orderable=False)
    missed = TextColumn(accessor="coverage", verbose_name="Outside of it", orderable=False)
    ahead = TextColumn(verbose_name="Over", orderable=False)
    mean_error = RatioColumn(verbose_name="Error")
    mean_loss = RatioColumn(verbose_name="Loss")
    unexpected = tables.Column(verbose_name="Not foreseen", attrs=NUMBER)
    left_out = tables.Column(verbose_name="Left out", attrs=NUMBER)

    class Meta:
        empty_text = "No item is scored yet."

    def render_verdict(self, value: str) -> SafeString:
        return display.status(value, MARKS.get(value, ""))

    def value_verdict(self, value: str) -> str:
        return value

    def render_missed(self, record: ItemAccuracy) -> str:
        coverage = record.coverage
        return f"{coverage.missed} of {coverage.judged}" if coverage.judged else ""

    value_missed = render_missed

    def render_ahead(self, value: str) -> str:
        return AHEAD(value).label


class ForecastAccuracyPage(TablePage):
    template_name = "forecast/accuracy.html"
    table_class = ItemAccuracyTable
    heading = "How good it was"
    sub = "What forecasts said, against what the ledger says was used once the weeks had passed."
    export_name = "forecast-accuracy"

    def get_rows(self) -> list[ItemAccuracy]:
        return item_accuracy(timezone.localdate())

    def get_context_data(self, **kwargs: Any) -> dict:
        rows = shop_accuracy(timezone.localdate())
        shown = {
            "stretches": [(row, AHEAD(row.ahead).label) for row in rows],
            "kept": runs_kept(),
        }
        return super().get_context_data(**shown, **kwargs)
