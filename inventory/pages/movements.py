"""The stock ledger: every movement, one entry with its lines, and undoing an entry."""

from typing import Any

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2.utils import A

from inventory.actions import reverse_posting
from inventory.models import Movement, Place, Posting
from inventory.pages import display
from inventory.pages.columns import ChangeColumn, DayColumn, TextColumn
from inventory.pages.forms import ActionForm, ActionPage, DayField
from inventory.pages.table_page import OpenEndedPaginator, TablePage
from inventory.queries import movements as queries
from inventory.queries.exceptional_use import outside_batches
from inventory.units import show_quantity

NEWEST = 8


class MovementTable(tables.Table):
    item = TextColumn(
        accessor="item__code",
        verbose_name="Item",
        linkify=("item", [A("item__code")]),
        orderable=False,
    )
    day = DayColumn(verbose_name="Day", order_by=("day", "pk"))
    what = TextColumn(accessor="posting", verbose_name="What", orderable=False)
    quantity = ChangeColumn(
        accessor="qty", verbose_name="Quantity", unit="item__stock_unit", orderable=False
    )
    unit = TextColumn(accessor="item__stock_unit", visible=False)
    lot = TextColumn(linkify=True, orderable=False)
    piece = TextColumn(linkify=True, orderable=False)
    place = TextColumn(orderable=False)
    batch = TextColumn(accessor="posting__batch", linkify=True, orderable=False)
    note = TextColumn(accessor="posting__note", orderable=False)
    by = TextColumn(accessor="posting__by", orderable=False)
    entry = TextColumn(
        accessor="posting_id",
        verbose_name="Entry",
        orderable=False,
    )

    class Meta:
        empty_text = "No movement matches."

    def render_what(self, value: Posting) -> str:
        return said(value)

    def value_what(self, value: Posting) -> str:
        return said(value)

    def render_entry(self, record: Movement) -> SafeString:
        number = record.posting_id
        entry = format_html('<a href="{}">{}</a>', reverse("entry", args=[number]), number)
        if not (self.request.user.may_write and may_be_undone(record.posting)):
            return entry
        undo = reverse("entry-undo", args=[number])
        return format_html('{} <a class="undo" href="{}">Undo</a>', entry, undo)

    def value_entry(self, value: int) -> int:
        return value


def said(posting: Posting) -> str:
    """What an entry did: "used for batch", "counted", "received, undone later"."""
    words = posting.get_kind_display()
    if posting.reason and posting.reason != posting.kind:
        words += f": {posting.reason}"
    return words + (", undone later" if hasattr(posting, "reversed_by") else "")


def may_be_undone(posting: Posting) -> bool:
    return posting.kind != Posting.Kind.REVERSE and not hasattr(posting, "reversed_by")


def with_undo(words: str, posting: Posting) -> SafeString:
    """A message about an entry, with the way to undo it."""
    undo = reverse("entry-undo", args=[posting.pk])
    return format_html('{} <a class="button" href="{}">Undo</a>', words, undo)


def newest_movements(request: HttpRequest, **of: Any) -> MovementTable:
    """The newest lines of one item, lot or piece, without columns that would stay empty."""
    rows = list(queries.movements().filter(**of)[:NEWEST])
    hidden = {"item", *of}
    if not any(row.piece_id for row in rows):
        hidden.add("piece")
    if not any(row.posting.batch_id for row in rows):
        hidden.add("batch")
    if not any(row.posting.note for row in rows):
        hidden.add("note")
    return MovementTable(rows, request=request, orderable=False, exclude=hidden)


class MovementFilter(filters.FilterSet):
    among_few = False
    """Known once `q` is looked for, which is the first of the filters."""

    q = filters.CharFilter(
        label="Find item, lot or piece",
        method="find",
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    kind = filters.ChoiceFilter(
        label="What", choices=Posting.Kind.choices, empty_label="anything", method="common"
    )
    place = filters.ModelChoiceFilter(
        label="Place", queryset=Place.objects.all(), empty_label="any place", method="common"
    )
    since = filters.DateFilter(
        label="From", field_name="day", lookup_expr="gte", widget=forms.DateInput({"type": "date"})
    )
    until = filters.DateFilter(
        label="To", field_name="day", lookup_expr="lte", widget=forms.DateInput({"type": "date"})
    )

    def find(self, rows: QuerySet[Movement], name: str, text: str) -> QuerySet[Movement]:
        found = queries.search(text)
        self.among_few = found.are_few
        return queries.movements_of(rows, found)

    def common(self, rows: QuerySet[Movement], name: str, value: str | Place) -> QuerySet[Movement]:
        if self.among_few:
            return queries.picked_from_few(rows, name, getattr(value, "pk", value))
        return rows.filter(**{name: value})


class MovementList(TablePage):
    template_name = "stock/movements.html"
    table_class = MovementTable
    filterset_class = MovementFilter
    paginator_class = OpenEndedPaginator
    heading = "Movements"
    sub = "Every line of the stock ledger. Lines are never changed; an entry is undone by its opposite."
    export_name = "movements"

    def get_rows(self) -> QuerySet[Movement]:
        return queries.movements()


def entry_page(request: HttpRequest, pk: int) -> HttpResponse:
    posting = get_object_or_404(
        Posting.objects.select_related("by", "batch", "reverses", "exceptional"), pk=pk
    )
    lines = MovementTable(
        queries.movements().filter(posting=posting),
        request=request,
        orderable=False,
        exclude=["entry", "what", "note", "by", "batch", "day"],
    )
    shown = {
        "posting": posting,
        "lines": lines,
        "heading": f"Entry {posting.pk}",
        "sub": f"{said(posting)}, {display.day(posting.day)}",
        "reversed_by": getattr(posting, "reversed_by", None),
        "may_leave_out": outside_batches().filter(pk=posting.pk).exists(),
        "left_out_since": posting.exceptional.day if hasattr(posting, "exceptional") else None,
    }
    return render(request, "stock/entry.html", shown)


class UndoForm(ActionForm):
    day = DayField(help_text="When the mistake was put right.")
    note = forms.CharField(label="What was wrong", max_length=200, required=False)


class UndoEntry(ActionPage):
    form_class = UndoForm
    submit_label = "Undo this entry"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.posting = get_object_or_404(Posting, pk=kwargs["pk"])
        self.heading = f"Undo entry {self.posting.pk}"
        self.sub = "; ".join(
            f"{line.item.code} {show_quantity(-line.qty, line.item.stock_unit)}"
            for line in self.posting.movements.select_related("item")
        )

    def act(self, form: UndoForm) -> Posting:
        return reverse_posting(posting=self.posting, **form.asked)

    def message_for(self, result: Posting) -> str:
        return f"Entry {self.posting.pk} is undone by entry {result.pk}."

    def done_url(self, result: Posting) -> str:
        return reverse("entry", args=[result.pk])

    def back_url(self) -> str:
        return reverse("entry", args=[self.posting.pk])
