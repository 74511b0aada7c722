"""Suppliers and vendors: who they are, what they sell, on what terms."""

from typing import Any

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.actions import save_supplier
from inventory.models import Offer, Supplier
from inventory.pages import display
from inventory.pages.columns import (
    LEAD,
    CountColumn,
    DayColumn,
    QuantityColumn,
    StatusColumn,
    TextColumn,
)
from inventory.pages.forms import ActionPage
from inventory.pages.record_form import RecordForm
from inventory.pages.table_page import TablePage
from inventory.queries import suppliers as queries
from inventory.queries.record_check import CODE


class SupplierTable(tables.Table):
    code = TextColumn(linkify=True)
    name = TextColumn(attrs=LEAD)
    works = tables.Column(accessor="is_vendor", verbose_name="Kind")
    offers_now = CountColumn(verbose_name="Offers")
    open_orders = CountColumn(verbose_name="Open orders")
    last_order = DayColumn(verbose_name="Last order")

    class Meta:
        empty_text = "No supplier is entered."
        order_by = "name"

    def render_works(self, value: bool) -> str:
        return "outside processing" if value else "supplier"


class SupplierFilter(filters.FilterSet):
    q = filters.CharFilter(
        label="Find", method="find", widget=forms.TextInput(attrs={"type": "search"})
    )

    def find(self, rows: QuerySet[Supplier], name: str, text: str) -> QuerySet[Supplier]:
        return rows.filter(
            Q(code__icontains=text)
            | Q(name__icontains=text)
            | Q(offers__item__code__icontains=text)
        )


class SupplierList(TablePage):
    template_name = "suppliers/list.html"
    table_class = SupplierTable
    filterset_class = SupplierFilter
    heading = "Suppliers"
    export_name = "suppliers"

    def get_rows(self) -> QuerySet[Supplier]:
        return queries.suppliers(timezone.localdate())


def offer_mark(offer: Offer) -> tuple[str, str]:
    if offer.valid_to and offer.valid_to < timezone.localdate():
        return "ended", ""
    return ("preferred", "good") if offer.preferred else ("second choice", "")


class OfferTable(tables.Table):
    item = TextColumn(linkify=True)
    pack = TextColumn(accessor="pack_name", verbose_name="Pack")
    pack_qty = QuantityColumn(verbose_name="In a pack", unit="item__stock_unit")
    prices = TextColumn(
        accessor="pk", verbose_name="Price of a pack", attrs={"td": {"class": "number"}}
    )
    minimum_packs = CountColumn(verbose_name="Minimum")
    lead_days = CountColumn(verbose_name="Lead time, days")
    valid_from = DayColumn(verbose_name="From")
    state = StatusColumn(verbose_name="State", mark_of=offer_mark)

    class Meta:
        orderable = False
        empty_text = "No offer is entered."

    def render_prices(self, record: Offer) -> str:
        steps = [
            f"{f'from {step.from_packs}: ' if step.from_packs > 1 else ''}{display.money(step.price, '')}"
            for step in record.price_breaks.all()
        ]
        charge = f", and {display.money(record.lot_charge, '')} a line" if record.lot_charge else ""
        return "; ".join(steps) + charge


def supplier_page(request: HttpRequest, code: str) -> HttpResponse:
    supplier = get_object_or_404(Supplier, code=code)
    late = sorted(queries.lateness(supplier))
    shown = {
        "supplier": supplier,
        "heading": supplier.name,
        "sub": "Outside processing" if supplier.is_vendor else "Supplier",
        "offers": OfferTable(queries.offers_by(supplier), request=request),
        "orders": supplier.orders.all()[:20],
        "deliveries": len(late),
        "on_time": sum(days <= 0 for days in late),
        "latest": late[-1] if late else None,
    }
    return render(request, "suppliers/supplier.html", shown)


class SupplierForm(RecordForm):
    code = forms.CharField(max_length=20, validators=[CODE], help_text="Short, for labels.")

    class Meta:
        model = Supplier
        fields = ["code", "name", "is_vendor", "email", "order_fee", "note"]
        widgets = {"note": forms.Textarea({"rows": 3})}


class NewSupplier(ActionPage):
    role = "owner"
    form_class = SupplierForm
    heading = "New supplier"

    def act(self, form: SupplierForm) -> Supplier:
        asked = form.asked
        return save_supplier(values=form.values, by=asked["by"], key=asked["key"])

    def back_url(self) -> str:
        return reverse("suppliers")


class EditSupplier(NewSupplier):
    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.supplier = get_object_or_404(Supplier, code=kwargs["code"])
        self.heading = f"Change {self.supplier.name}"

    def get_form_kwargs(self) -> dict:
        instance = Supplier.objects.get(pk=self.supplier.pk)
        return {**super().get_form_kwargs(), "instance": instance}

    def act(self, form: SupplierForm) -> Supplier:
        asked = form.asked
        return save_supplier(
            supplier=self.supplier, values=form.values, by=asked["by"], key=asked["key"]
        )

    def back_url(self) -> str:
        return self.supplier.get_absolute_url()
