"""Use outside batches: what it came to, by month and reason, and the items behind it."""

from collections import defaultdict
from datetime import date
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils import timezone

from inventory.models import Shop
from inventory.pages import display
from inventory.pages.columns import LEAD, CountColumn, MoneyColumn, QuantityColumn, TextColumn
from inventory.pages.table_page import TablePage
from inventory.queries.outside_use import OutsideUse, outside_use


def month_name(month: date) -> str:
    return f"{month:%b %Y}"


class OutsideUseTable(tables.Table):
    item = TextColumn(
        accessor="item__code",
        verbose_name="Item",
        linkify=lambda record: record.item.get_absolute_url(),
    )
    name = TextColumn(accessor="item__name", verbose_name="Name", attrs=LEAD)
    month = TextColumn(verbose_name="Month")
    reason = TextColumn(verbose_name="Reason")
    quantity = QuantityColumn(accessor="qty", verbose_name="Quantity", unit="item__stock_unit")
    unit = TextColumn(accessor="item__stock_unit", visible=False)
    value = MoneyColumn(verbose_name="Value")
    entries = CountColumn(verbose_name="Entries")

    class Meta:
        empty_text = "Nothing was used outside batches."

    def render_month(self, value: date) -> str:
        return month_name(value)

    def value_month(self, value: date) -> str:
        return f"{value:%Y-%m}"


class OutsideUsePage(TablePage):
    template_name = "stock/outside_use.html"
    table_class = OutsideUseTable
    heading = "Use outside batches"
    sub = "Repairs, one-offs, samples, scrap, and what a count found missing or found again."
    export_name = "outside-use"

    def get_rows(self) -> list[OutsideUse]:
        self.uses = outside_use(timezone.localdate())
        self.month, self.reason = (self.request.GET.get(name, "") for name in ("month", "reason"))
        return [
            use
            for use in self.uses
            if self.month in ("", f"{use.month:%Y-%m}") and self.reason in ("", use.reason)
        ]

    def get_context_data(self, **kwargs: Any) -> dict:
        chosen = " · ".join(filter(None, [self.month, self.reason]))
        shop = Shop.objects.first()
        shown = {"chosen": chosen, "currency": shop.currency if shop else "", **by_month(self.uses)}
        return super().get_context_data(**shown, **kwargs)


def by_month(uses: list[OutsideUse]) -> dict:
    """Reasons as columns, the dearest first, and a row for each month: value a cell, and its sum."""
    values: dict[tuple[date, str], Decimal] = defaultdict(Decimal)
    for use in uses:
        values[use.month, use.reason] += use.value
    total: dict[str, Decimal] = defaultdict(Decimal)
    for (_, reason), value in values.items():
        total[reason] += value
    reasons = sorted(total, key=lambda reason: -total[reason])
    rows = [
        {
            "name": month_name(month),
            "asked": f"{month:%Y-%m}",
            "cells": [
                (reason, display.money(values.get((month, reason)), "")) for reason in reasons
            ],
            "sum": display.money(
                sum((value for (of, _), value in values.items() if of == month), Decimal(0)), ""
            ),
        }
        for month in sorted({month for month, _ in values}, reverse=True)
    ]
    return {"reasons": reasons, "months": rows}
