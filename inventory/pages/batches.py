"""Batches: what is planned, held, in work and done."""

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import Q, QuerySet

from inventory.models import Batch
from inventory.pages.batch_words import batch_words, state_mark
from inventory.pages.columns import LEAD, CountColumn, DayColumn, StatusColumn, TextColumn
from inventory.pages.table_page import TablePage
from inventory.queries.batches import batches_with_lines

OPEN = "open"
STATES = [(OPEN, "open"), *Batch.State.choices, ("", "all")]


class BatchTable(tables.Table):
    number = TextColumn(linkify=True, verbose_name="Batch", attrs={"a": {"class": "code"}})
    builds = TextColumn(empty_values=(), orderable=False, attrs=LEAD)
    state = StatusColumn(mark_of=state_mark)
    start_on = DayColumn(verbose_name="Planned start")
    started_on = DayColumn(verbose_name="Started")
    finished_on = DayColumn(verbose_name="Finished")
    good = CountColumn(empty_values=(), orderable=False, verbose_name="Good")
    note = TextColumn(orderable=False)

    class Meta:
        empty_text = "No batch is like that. Check one first, then plan it."

    def render_builds(self, record: Batch) -> str:
        return batch_words(record)

    def render_good(self, record: Batch) -> str:
        if record.state != Batch.State.FINISHED:
            return ""
        lines = record.lines.all()
        return f"{sum(line.good for line in lines)} of {sum(line.start_qty for line in lines)}"


class BatchFilter(filters.FilterSet):
    q = filters.CharFilter(
        label="Find number or product",
        method="find",
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    state = filters.ChoiceFilter(label="State", choices=STATES, method="in_state", empty_label=None)

    def find(self, batches: QuerySet[Batch], name: str, text: str) -> QuerySet[Batch]:
        return batches.filter(
            Q(number__icontains=text)
            | Q(note__icontains=text)
            | Q(lines__product__code__icontains=text)
            | Q(lines__product__name__icontains=text)
        ).distinct()

    def in_state(self, batches: QuerySet[Batch], name: str, state: str) -> QuerySet[Batch]:
        if state == OPEN:
            return batches.exclude(state__in=[Batch.State.FINISHED, Batch.State.CANCELLED])
        return batches.filter(state=state)


class BatchList(TablePage):
    template_name = "batches/list.html"
    table_class = BatchTable
    filterset_class = BatchFilter
    heading = "Batches"
    export_name = "batches"

    def get_rows(self) -> QuerySet[Batch]:
        return batches_with_lines()
