"""Vendors: what is out, when it should be back, and which batches could share a lot."""

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.models import Regrind
from inventory.pages.columns import CountColumn, DayColumn, QuantityColumn, StatusColumn, TextColumn
from inventory.queries.batches import batches_in_work
from inventory.queries.regrinds import out_to_regrind
from inventory.queries.vendors import Out, out_at_vendors, services, stock_at_vendors


def out_mark(out: Out) -> tuple[str, str]:
    """Whether knives that are out are due, as (word, mark)."""
    if out.back_on is None:
        return "no lead time known", ""
    late = out.days_late(timezone.localdate())
    if late:
        return f"{late} day{'s' if late > 1 else ''} late", "stop"
    return "out", "work"


class OutTable(tables.Table):
    batch = TextColumn(linkify=True, attrs={"a": {"class": "code"}})
    product = TextColumn()
    knives = CountColumn(accessor="stage__arrived")
    service = TextColumn(accessor="service__name")
    vendor = TextColumn(accessor="offer__supplier__name")
    since = DayColumn()
    back_on = DayColumn(verbose_name="Back about")
    state = StatusColumn(mark_of=out_mark)

    class Meta:
        orderable = False
        empty_text = "Nothing is out."


class AwayTable(tables.Table):
    place = TextColumn(verbose_name="Where")
    item = TextColumn(accessor="item__code", linkify=lambda record: record.item.get_absolute_url())
    lot = TextColumn(linkify=lambda record: record.lot.get_absolute_url())
    piece = TextColumn()
    quantity = QuantityColumn(accessor="qty", unit="item__stock_unit")

    class Meta:
        orderable = False


class RegrindTable(tables.Table):
    fitting = TextColumn(verbose_name="Cutter", linkify=True, attrs={"a": {"class": "code"}})
    item = TextColumn(accessor="fitting__item__name")
    vendor = TextColumn(empty_values=())
    since = DayColumn(accessor="sent_on")
    days = CountColumn(accessor="sent_on", verbose_name="Days out")
    note = TextColumn()

    class Meta:
        orderable = False

    def render_vendor(self, value: object) -> str:
        return str(value) if value else "ground in house"

    def render_days(self, record: Regrind) -> str:
        return str((timezone.localdate() - record.sent_on).days)


def vendors_page(request: HttpRequest) -> HttpResponse:
    day = timezone.localdate()
    away, regrinds = stock_at_vendors(), list(out_to_regrind())
    shown = {
        "heading": "Out at vendors",
        "sub": "Knives whose next stage is an outside service, and what each vendor works on.",
        "out": OutTable(out_at_vendors(batches_in_work(), day), request=request),
        "away": AwayTable(away, request=request) if away else None,
        "regrinds": RegrindTable(regrinds, request=request) if regrinds else None,
        "services": services(day),
    }
    return render(request, "vendors/vendors.html", shown)
