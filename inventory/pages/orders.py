"""Orders: the list, one order with what came of it, and what is done to it."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.actions import cancel_order, close_order_line, draft_order, send_order
from inventory.exchange.csv_export import csv_response
from inventory.models import Offer, OrderLine, PurchaseOrder, Supplier
from inventory.pages import display
from inventory.pages.columns import CountColumn, DayColumn, MoneyColumn, StatusColumn, TextColumn
from inventory.pages.forms import ActionForm, ActionPage, DayField
from inventory.pages.table_page import TablePage
from inventory.queries import orders as queries

STATE = PurchaseOrder.State
MARKS = {STATE.DRAFT: "watch", STATE.SENT: "work", STATE.RECEIVED: "good", STATE.CANCELLED: ""}
SHOWN = [
    ("draft", "draft"),
    ("sent", "sent"),
    ("overdue", "overdue"),
    ("received", "received"),
    ("cancelled", "cancelled"),
]


def order_mark(order: PurchaseOrder) -> tuple[str, str]:
    """State of an order as (word, mark); a late one says by how much."""
    late = _days_late(order.due) if order.state == STATE.SENT else 0
    if late:
        return f"{late} day{'s' if late > 1 else ''} late", "stop"
    return order.get_state_display(), MARKS[order.state]


def _days_late(expected: date | None) -> int:
    return max((timezone.localdate() - expected).days, 0) if expected else 0


class OrderTable(tables.Table):
    number = TextColumn(linkify=True)
    supplier = TextColumn(linkify=lambda record: record.supplier.get_absolute_url())
    state = StatusColumn(mark_of=order_mark)
    drafted = DayColumn(accessor="drafted_on")
    sent = DayColumn(accessor="sent_on")
    due = DayColumn(verbose_name="Expected")
    line_count = CountColumn(verbose_name="Lines")
    goods = MoneyColumn()
    note = TextColumn()

    class Meta:
        empty_text = "No order matches. Orders are drafted from the reorder list."


class OrderFilter(filters.FilterSet):
    q = filters.CharFilter(
        label="Find number or item",
        method="find",
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    state = filters.ChoiceFilter(choices=SHOWN, method="in_state", empty_label="any state")
    supplier = filters.ModelChoiceFilter(
        queryset=Supplier.objects.all(), to_field_name="code", empty_label="any supplier"
    )

    def find(self, rows: QuerySet, name: str, text: str) -> QuerySet:
        lines = OrderLine.objects.filter(item__code__icontains=text).values("order")
        return rows.filter(number__icontains=text) | rows.filter(pk__in=lines)

    def in_state(self, rows: QuerySet, name: str, state: str) -> QuerySet:
        if state == "overdue":
            return queries.overdue(rows, timezone.localdate())
        return rows.filter(state=state)


class OrderList(TablePage):
    template_name = "orders/list.html"
    table_class = OrderTable
    filterset_class = OrderFilter
    heading = "Orders"
    export_name = "orders"

    def get_rows(self) -> QuerySet[PurchaseOrder]:
        return queries.orders()


def order_page(request: HttpRequest, number: str) -> HttpResponse:
    order = get_object_or_404(queries.orders(), number=number)
    lines = queries.lines_of(order, timezone.localdate())
    if request.GET.get("format") == "csv":
        return csv_response(f"order-{order.number}", _order_rows(lines))
    goods = sum((ordered.cost for ordered in lines), Decimal(0))
    shown = {
        "heading": f"Order {order.number}",
        "order": order,
        "mark": order_mark(order),
        "lines": [(ordered, _line_mark(ordered)) for ordered in lines],
        "goods": goods,
        "total": goods + order.supplier.order_fee,
        "receipts": [receipt for ordered in lines for receipt in ordered.receipts],
    }
    return render(request, "orders/order.html", shown)


def _line_mark(ordered: queries.OrderedLine) -> tuple[str, str]:
    """What came of a line, as (word, mark)."""
    line = ordered.line
    if line.order.state == STATE.DRAFT:
        return "not sent", ""
    if line.received_qty >= line.qty:
        return "all here", "good"
    if line.closed:
        return ("closed, the rest won't come" if line.received_qty else "closed, none came"), ""
    if ordered.arrival and ordered.arrival.late:
        again = display.day(ordered.arrival.day)
        return f"{ordered.arrival.late} days late, perhaps {again}", "stop"
    return ("part is here" if line.received_qty else "on its way"), "work"


class OrderAction(ActionPage):
    """An action on one order; the way back is its page."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.order = get_object_or_404(
            PurchaseOrder.objects.select_related("supplier"), number=kwargs["number"]
        )
        self.sub = f"Order {self.order.number} to {self.order.supplier}"

    def back_url(self) -> str:
        return self.order.get_absolute_url()

    def done_url(self, result: Any) -> str:
        return self.order.get_absolute_url()


class SendForm(ActionForm):
    day = DayField(label="Sent on")
    expected_on = DayField(
        label="Promised for",
        required=False,
        initial=None,
        help_text="Empty: each line after its quoted lead time.",
    )


class SendOrder(OrderAction):
    form_class = SendForm
    heading = "Mark as sent"
    submit_label = "It is sent"

    def act(self, form: SendForm) -> PurchaseOrder:
        return send_order(order=self.order, **form.asked)

    def message_for(self, result: PurchaseOrder) -> str:
        return f"Order {result} counts as on order now."


class CancelForm(ActionForm):
    note = forms.CharField(label="Why", max_length=200, required=False)


class CancelOrder(OrderAction):
    form_class = CancelForm
    heading = "Cancel the order"
    submit_label = "Cancel it"

    def act(self, form: CancelForm) -> PurchaseOrder:
        return cancel_order(order=self.order, **form.asked)

    def message_for(self, result: PurchaseOrder) -> str:
        return f"Order {result} is cancelled."


class CloseLine(OrderAction):
    heading = "Close the line"
    submit_label = "The rest won't come"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.line = get_object_or_404(
            OrderLine.objects.select_related("item", "order"), order=self.order, pk=kwargs["pk"]
        )
        left = display.quantity_text(self.line.outstanding, self.line.item.stock_unit, request.user)
        self.sub = f"{self.line.item.code}: {left} still to come of {self.sub}"

    def act(self, form: ActionForm) -> OrderLine:
        return close_order_line(line=self.line, **form.asked)

    def message_for(self, result: OrderLine) -> str:
        return f"Nothing more of {self.line.item.code} is expected on this order."


class NewOrderForm(ActionForm):
    offer = forms.ModelChoiceField(queryset=Offer.objects.none(), label="What, from whom")
    packs = forms.IntegerField(min_value=1, max_value=100_000, initial=1)
    day = DayField()
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["offer"].queryset = queries.offers_to_order(timezone.localdate())
        self.fields["offer"].label_from_instance = _say_offer


def _say_offer(offer: Offer) -> str:
    return f"{offer.item.code} from {offer.supplier}: {offer.pack_name}"


class NewOrder(ActionPage):
    form_class = NewOrderForm
    heading = "New order"
    sub = "Of one item. Several at once are drafted from the reorder list."
    submit_label = "Draft it"

    def get_initial(self) -> dict:
        return {"offer": self.request.GET.get("offer")}

    def act(self, form: NewOrderForm) -> PurchaseOrder:
        asked = form.asked
        offer, packs = asked.pop("offer"), asked.pop("packs")
        return draft_order(supplier=offer.supplier, lines=[(offer, packs)], **asked)

    def message_for(self, result: PurchaseOrder) -> str:
        return f"Order {result} is drafted. Send it when it is right."

    def back_url(self) -> str:
        return reverse("orders")


def _order_rows(lines: list[queries.OrderedLine]) -> Iterator[tuple]:
    yield (
        "item",
        "name",
        "their code",
        "packs",
        "pack",
        "quantity",
        "unit",
        "pack price",
        "line cost",
        "received",
        "expected",
    )
    for ordered in lines:
        line = ordered.line
        yield (
            line.item.code,
            line.item.name,
            line.offer.their_code,
            line.packs,
            line.offer.pack_name,
            line.qty,
            line.item.stock_unit,
            line.pack_price,
            ordered.cost,
            line.received_qty,
            line.expected_on or "",
        )
