"""Counts of the shelf: every list, a new one, one list as a walk and on paper."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django_tables2.utils import A

from inventory.actions import start_count
from inventory.models import CountLine, Item, Place, StockCount
from inventory.pages.access import role_required
from inventory.pages.columns import (
    LEAD,
    CountColumn,
    DayColumn,
    QuantityColumn,
    StatusColumn,
    TextColumn,
)
from inventory.pages.forms import ActionForm, ActionPage
from inventory.pages.table_page import TablePage
from inventory.queries import stock_count as queries

STATE_MARKS = {
    StockCount.State.OPEN: "work",
    StockCount.State.POSTED: "good",
    StockCount.State.DROPPED: "",
}
LONGEST_IDLE_DAYS = 3650


def state_mark(count: StockCount) -> tuple[str, str]:
    return count.get_state_display(), STATE_MARKS[count.state]


def line_mark(line: CountLine) -> tuple[str, str]:
    if line.recount:
        return "to be counted again", "watch"
    return ("to be counted", "work") if line.counted is None else ("counted", "good")


class CountTable(tables.Table):
    number = TextColumn(linkify=True, verbose_name="Count", attrs={"a": {"class": "code"}})
    what = TextColumn(attrs=LEAD)
    started = DayColumn(accessor="started_at", verbose_name="Started")
    by = TextColumn()
    lines = CountColumn(accessor="line_count", verbose_name="Lines")
    counted = CountColumn(accessor="counted_count", verbose_name="Counted")
    state = StatusColumn(mark_of=state_mark, verbose_name="State", orderable=False)

    class Meta:
        empty_text = "Nothing was counted from a list yet. Start with the place you use most."


class CountList(TablePage):
    template_name = "counts/list.html"
    table_class = CountTable
    heading = "Counts"
    sub = "Lists of what to count; the record changes when one is posted."
    export_name = "counts"

    def get_rows(self) -> QuerySet[StockCount]:
        return queries.counts_with_progress()


class NewCountForm(ActionForm):
    place = forms.ModelChoiceField(
        Place.objects.all(), required=False, empty_label="everywhere in the shop"
    )
    kind = forms.ChoiceField(
        choices=[("", "any kind"), *(c for c in Item.Kind.choices if c[0] != Item.Kind.SERVICE)],
        required=False,
    )
    value_class = forms.ChoiceField(
        label="Class by yearly value",
        choices=[("", "any class"), *Item.ValueClass.choices],
        required=False,
    )
    idle_days = forms.IntegerField(
        label="Not counted for so many days",
        required=False,
        min_value=1,
        max_value=LONGEST_IDLE_DAYS,
        help_text="Empty: also what was counted lately.",
    )


class NewCount(ActionPage):
    form_class = NewCountForm
    heading = "New count"
    sub = "What to count. The figures of the record aren't shown while you count."
    submit_label = "Start counting"
    done_message = ""

    def get_initial(self) -> dict:
        return {name: self.request.GET.get(name) for name in ("place", "kind", "value_class")}

    def act(self, form: NewCountForm) -> StockCount:
        return start_count(day=timezone.localdate(), **form.asked)

    def done_url(self, result: StockCount) -> str:
        return reverse("count-next", args=[result.number])

    def back_url(self) -> str:
        return reverse("counts")


class LineTable(tables.Table):
    """The walk of a list, blind: what was counted, never what is expected."""

    item = TextColumn(
        accessor="lot__item__code",
        verbose_name="Item",
        linkify=("count-line", [A("count__number"), A("pk")]),
        attrs={"a": {"class": "code"}},
    )
    name = TextColumn(accessor="lot__item__name", verbose_name="Name", attrs=LEAD)
    place = TextColumn()
    lot = TextColumn()
    maker_number = TextColumn(accessor="lot__maker_number", verbose_name="Heat, colour, batch")
    piece = TextColumn()
    counted = QuantityColumn(unit="lot__item__stock_unit", verbose_name="Counted")
    unit = TextColumn(accessor="lot__item__stock_unit", visible=False)
    state = StatusColumn(mark_of=line_mark, verbose_name="State", orderable=False)

    class Meta:
        orderable = False


class LineTableToRead(LineTable):
    """The same without a way into the lines: the list has ended, or the reader only looks."""

    item = TextColumn(accessor="lot__item__code", verbose_name="Item")


class CountPage(TablePage):
    template_name = "counts/count.html"
    export_name = "count"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        rows = queries.counts_with_progress()
        self.count = get_object_or_404(rows, number=kwargs["number"])
        self.heading = f"Count {self.count.number}"
        self.export_name = f"count-{self.count.number}"
        self.is_open = self.count.state == StockCount.State.OPEN
        may_count = self.is_open and request.user.is_authenticated and request.user.may_write
        self.table_class = LineTable if may_count else LineTableToRead

    def get_rows(self) -> QuerySet[CountLine]:
        return queries.lines_of(self.count).select_related("count", "lot__item", "piece", "place")

    def get_context_data(self, **kwargs: Any) -> dict:
        word, mark = state_mark(self.count)
        shown = {"count": self.count, "is_open": self.is_open, "word": word, "mark": mark}
        return super().get_context_data(**shown, **kwargs)


@role_required("maker")
def next_page(request: HttpRequest, number: str) -> HttpResponse:
    """On to the next line to count, or to what was found when there is none."""
    count = get_object_or_404(StockCount, number=number)
    return HttpResponseRedirect(address_of_next(count))


def address_of_next(count: StockCount, after: CountLine | None = None) -> str:
    """Where counting goes on behind a line."""
    line = queries.next_line(count, after)
    if line is None or count.state != StockCount.State.OPEN:
        return reverse("count-review", args=[count.number])
    return reverse("count-line", args=[count.number, line.pk])


def paper_page(request: HttpRequest, number: str) -> HttpResponse:
    """The list to be filled in with a pencil."""
    count = get_object_or_404(StockCount, number=number)
    shown = {
        "count": count,
        "lines": queries.lines_to_count(count),
        "heading": f"Count {count.number}",
        "printed_on": timezone.localdate(),
    }
    return render(request, "counts/paper.html", shown)
