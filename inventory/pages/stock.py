"""Stock: every item with what is on hand, held, free and on order."""

from decimal import Decimal
from functools import cached_property
from typing import Any

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import Q, QuerySet
from django.utils import timezone

from inventory.models import Item, Place
from inventory.pages.columns import LEAD, QuantityColumn, StatusColumn, TextColumn
from inventory.pages.table_page import TablePage
from inventory.queries.availability import Stock, stock_by_item
from inventory.queries.stock import items_with_on_hand, on_order_now, with_unusable_stock

STATES = [
    ("here", "something here"),
    ("gone", "nothing here"),
    ("unusable", "some of it not usable"),
    ("coming", "on order"),
    ("ending", "last buy or discontinued"),
]


def stock_mark(item: Item, stock: Stock) -> tuple[str, str]:
    """What stands out about an item as (word, mark); empty when nothing does."""
    if stock.unusable:
        return next(iter(stock.unusable)), "watch"
    if item.status != Item.Status.ACTIVE:
        return item.get_status_display(), "watch"
    return "", ""


class StockColumn(QuantityColumn):
    """One figure of the item's Stock, looked up for the whole page at once."""

    def __init__(self, figure: str, **kwargs: Any) -> None:
        self.figure = figure
        super().__init__(empty_values=(), orderable=False, **kwargs)

    def render(self, record: Item, table: "StockTable") -> str:
        return super().render(self.value(record, table), record, table)

    def value(self, record: Item, table: "StockTable") -> Decimal:
        return getattr(table.stock_of(record), self.figure)


class StockTable(tables.Table):
    code = TextColumn(linkify=True, attrs={"a": {"class": "code"}})
    name = TextColumn(attrs=LEAD)
    kind = TextColumn()
    on_hand = QuantityColumn()
    reserved = StockColumn("held")
    available = StockColumn("available")
    on_order = StockColumn("on_order")
    unit = TextColumn(accessor="stock_unit", visible=False)
    place = TextColumn(accessor="place__name", verbose_name="Place", order_by="place__name")
    classes = TextColumn(
        accessor="value_class",
        verbose_name="Class",
        empty_values=(),
        order_by=("value_class", "use_class"),
    )
    state = StatusColumn(
        mark_of=lambda item, table: stock_mark(item, table.stock_of(item)),
        verbose_name="State",
        orderable=False,
    )

    class Meta:
        empty_text = "No item matches. Change the filter, or add the item."
        order_by = "code"

    def render_classes(self, record: Item) -> str:
        return f"{record.value_class} {record.use_class}".strip()

    def stock_of(self, item: Item) -> Stock:
        return self.stock.get(item.pk, Stock())

    @cached_property
    def stock(self) -> dict[int, Stock]:
        page = getattr(self, "page", None)
        shown = [row.record.pk for row in page] if page else None
        return stock_by_item(timezone.localdate(), shown)


class StockFilter(filters.FilterSet):
    q = filters.CharFilter(
        label="Find", method="find", widget=forms.TextInput(attrs={"type": "search"})
    )
    kind = filters.ChoiceFilter(choices=Item.Kind.choices, empty_label="any kind")
    place = filters.ModelChoiceFilter(queryset=Place.objects.all(), empty_label="any place")
    value_class = filters.ChoiceFilter(
        label="Class", choices=Item.ValueClass.choices, empty_label="any class"
    )
    state = filters.ChoiceFilter(
        label="State", choices=STATES, method="in_state", empty_label="any state"
    )

    def find(self, items: QuerySet[Item], name: str, text: str) -> QuerySet[Item]:
        for word in text.split():
            items = items.filter(
                Q(code__icontains=word)
                | Q(name__icontains=word)
                | Q(grade__icontains=word)
                | Q(colour__icontains=word)
            )
        return items

    def in_state(self, items: QuerySet[Item], name: str, state: str) -> QuerySet[Item]:
        if state == "here":
            return items.filter(on_hand__gt=0)
        if state == "gone":
            return items.filter(on_hand=0).exclude(kind=Item.Kind.SERVICE)
        if state == "unusable":
            return with_unusable_stock(items, timezone.localdate())
        if state == "coming":
            return on_order_now(items)
        return items.exclude(status=Item.Status.ACTIVE)


class StockList(TablePage):
    template_name = "stock/list.html"
    table_class = StockTable
    filterset_class = StockFilter
    heading = "Stock"
    export_name = "stock"

    def get_rows(self) -> QuerySet[Item]:
        return items_with_on_hand()
