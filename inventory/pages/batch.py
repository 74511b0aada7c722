"""One batch: where it stands, what to do next, and each step as a form."""

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.actions import (
    cancel_batch,
    count_stage,
    release_batch,
    reserve_batch,
    start_batch,
)
from inventory.errors import Refused
from inventory.models import Batch, BatchLine, Operation, Shop, StageCount
from inventory.pages import display
from inventory.pages.batch_check import check_shown, need_csv
from inventory.pages.batch_tables import ItemColumn
from inventory.pages.batch_words import batch_words, no_verdict, short_verdict, state_mark
from inventory.pages.columns import NUMBER, MoneyColumn, QuantityColumn, TextColumn
from inventory.pages.forms import UNPROCESSABLE, ActionForm, ActionPage, DayField
from inventory.queries.batch_answer import answer_for
from inventory.queries.batch_check import check_planned_batch
from inventory.queries.batch_cost import batch_cost
from inventory.queries.batches import (
    LineStages,
    Taken,
    batches_with_lines,
    cuts_of,
    held_for,
    line_stages,
    taken_by,
    wear_of,
)

STATE = Batch.State
TO_START = (STATE.PLANNED, STATE.RESERVED)
CAUSES = ["over-ground", "clamp slip", "warped", "cracked", "size", "finish", "handle gap"]


class HeldTable(tables.Table):
    item = ItemColumn(accessor="reservation__item")
    place = TextColumn(accessor="places")
    held = QuantityColumn(accessor="reservation__qty", unit="reservation__item__stock_unit")
    lot = TextColumn(
        accessor="reservation__lot",
        linkify=lambda record: record.reservation.lot.get_absolute_url(),
    )
    piece = TextColumn(
        accessor="reservation__piece",
        linkify=lambda record: record.reservation.piece.get_absolute_url(),
    )

    class Meta:
        orderable = False


class TakenTable(tables.Table):
    item = ItemColumn(footer="Material in all")
    taken = QuantityColumn(accessor="qty", unit="item__stock_unit")
    per_knife = QuantityColumn(unit="item__stock_unit", empty_values=(), verbose_name="A knife")
    lots = TextColumn(verbose_name="From lots")
    cost = MoneyColumn(footer=lambda table: MoneyColumn().render(table.total), attrs=NUMBER)

    class Meta:
        orderable = False
        empty_text = "Nothing was taken yet."

    def __init__(self, rows: list[Taken], *, good: int, **kwargs: Any) -> None:
        self.good = good
        self.total = sum((row.cost for row in rows), Decimal(0))
        super().__init__(rows, exclude=() if good else ("per_knife",), **kwargs)

    def value_per_knife(self, record: Taken) -> Decimal:
        return record.qty / self.good

    def render_per_knife(self, record: Taken) -> str:
        column = self.columns["per_knife"].column
        return column.render(record.qty / self.good, record, self)

    def render_lots(self, value: list) -> SafeString:
        listed = format_html_join(
            ", ",
            '<a href="{}">{}</a>{}',
            (
                (
                    lot.get_absolute_url(),
                    lot.number,
                    f" ({lot.maker_number})" if lot.maker_number else "",
                )
                for lot in value
            ),
        )
        return format_html("<span>{}</span>", listed)


def batch_page(request: HttpRequest, number: str) -> HttpResponse:
    batch = get_object_or_404(batches_with_lines(), number=number)
    lines = line_stages(batch)
    word, mark = state_mark(batch)
    shown: dict[str, Any] = {
        "batch": batch,
        "lines": lines,
        "heading": f"Batch {batch.number}",
        "sub": batch_words(batch),
        "word": word,
        "mark": mark,
        "to_start": batch.state in TO_START,
    }
    if batch.is_open:
        held = held_for(batch)
        shown["held"] = HeldTable(held, request=request) if held else None
        shown["count_forms"] = _count_forms(batch, lines)
    if batch.started_on:
        shown |= _what_it_took(request, batch, lines)
    return render(request, "batches/batch.html", shown)


def answer_part(request: HttpRequest, number: str) -> HttpResponse:
    """The short answer of a planned batch, fetched by pages that list several."""
    batch = get_object_or_404(batches_with_lines(), number=number, state__in=TO_START)
    try:
        answer = short_verdict(answer_for(batch, timezone.localdate()))
    except Refused as refusal:
        answer = no_verdict(refusal)
    return render(request, "batches/answer_part.html", {"answer": answer, "batch": batch})


def planned_check(request: HttpRequest, number: str) -> HttpResponse:
    """The whole check of a planned batch; what it holds counts as free."""
    batch = get_object_or_404(batches_with_lines(), number=number, state__in=TO_START)
    shown: dict[str, Any] = {
        "batch": batch,
        "heading": f"Check of batch {batch.number}",
        "sub": f"{batch_words(batch)}, planned for {display.day(batch.start_on)}",
    }
    try:
        check = check_planned_batch(batch, timezone.localdate())
    except Refused as refusal:
        shown["verdict"] = no_verdict(refusal)
        return render(request, "batches/planned_check.html", shown, status=UNPROCESSABLE)
    if request.GET.get("format") == "csv":
        return need_csv(check, request)
    shown |= check_shown(check, request)
    return render(request, "batches/planned_check.html", shown)


class BatchPage(ActionPage):
    """An action on one batch; `what` in its heading."""

    what = ""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.batch = get_object_or_404(batches_with_lines(), number=kwargs["number"])
        self.heading = f"{self.what} batch {self.batch.number}"
        self.sub = batch_words(self.batch)

    def back_url(self) -> str:
        return self.batch.get_absolute_url()

    def done_url(self, result: Any) -> str:
        return self.batch.get_absolute_url()


class ReserveBatch(BatchPage):
    what = "Hold everything for"
    submit_label = "Hold it"
    done_message = "Everything is held. The bench sheet now names pieces and lots."

    def act(self, form: ActionForm) -> Batch:
        return reserve_batch(batch=self.batch, day=timezone.localdate(), **form.asked)


class ReleaseBatch(BatchPage):
    what = "Give back what is held for"
    submit_label = "Give it back"
    done_message = "Nothing is held any more; the batch stays planned."

    def act(self, form: ActionForm) -> Batch:
        return release_batch(batch=self.batch, **form.asked)


class StartForm(ActionForm):
    day = DayField(help_text="The pieces are booked as cut on this day.")


class StartBatch(BatchPage):
    what = "Start"
    form_class = StartForm
    submit_label = "Start it"
    done_message = "In work. Count each stage when it is done."

    def act(self, form: StartForm) -> Batch:
        return start_batch(batch=self.batch, **form.asked)


class CancelForm(ActionForm):
    day = DayField()
    note = forms.CharField(
        label="Why, and what becomes of the blanks", max_length=200, required=False
    )


class CancelBatch(BatchPage):
    what = "Cancel"
    form_class = CancelForm
    submit_label = "Cancel the batch"
    done_message = "Cancelled. What was held is free again."

    def act(self, form: CancelForm) -> Batch:
        return cancel_batch(batch=self.batch, **form.asked)


class CountForm(ActionForm):
    """Scrapped at one stage of one line; both are hidden, the page names them."""

    line = forms.ModelChoiceField(BatchLine.objects.all(), widget=forms.HiddenInput)
    operation = forms.ModelChoiceField(
        Operation.objects.select_related("bill"), widget=forms.HiddenInput
    )
    scrapped = forms.IntegerField(
        label="Scrapped here",
        min_value=0,
        initial=0,
        widget=forms.NumberInput({"inputmode": "numeric"}),
    )
    cause = forms.CharField(
        label="Why", max_length=80, required=False, widget=forms.TextInput({"list": "causes"})
    )
    day = DayField()


class CountStage(BatchPage):
    what = "Count a stage of"
    template_name = "batches/count.html"
    form_class = CountForm
    submit_label = "Count it"

    def get_initial(self) -> dict:
        ahead = [line for line in line_stages(self.batch) if line.ahead]
        if not ahead:
            return {}
        return {"line": ahead[0].line, "operation": ahead[0].ahead.operation}

    def act(self, form: CountForm) -> StageCount:
        if form.cleaned_data["line"].batch_id != self.batch.pk:
            raise Refused(f"That line isn't of batch {self.batch.number}. Open the batch again.")
        return count_stage(**form.asked)

    def message_for(self, result: StageCount) -> str:
        lost = f", {result.scrapped} scrapped" if result.scrapped else ""
        return f"{result.operation.name}: {result.good} good{lost}."

    def get_context_data(self, **kwargs: Any) -> dict:
        return super().get_context_data(
            batch=self.batch, lines=line_stages(self.batch), causes=CAUSES, **kwargs
        )


def _count_forms(batch: Batch, lines: list[LineStages]) -> list[tuple[LineStages, CountForm]]:
    if batch.state != STATE.IN_WORK:
        return []
    return [
        (
            line,
            CountForm(
                initial={"line": line.line, "operation": line.ahead.operation},
                auto_id=f"id_{line.line.pk}_%s",
            ),
        )
        for line in lines
        if line.ahead
    ]


def _what_it_took(request: HttpRequest, batch: Batch, lines: list[LineStages]) -> dict[str, Any]:
    is_done = batch.state == STATE.FINISHED
    rows, wear = taken_by(batch), wear_of(batch)
    shown: dict[str, Any] = {
        "taken": TakenTable(
            rows, good=sum(line.good for line in lines) if is_done else 0, request=request
        ),
        "cuts": cuts_of(batch),
        "wear": wear,
    }
    if is_done:
        shown |= {
            "good": sum(line.good for line in lines),
            "started": sum(line.line.start_qty for line in lines),
            "cost": batch_cost(batch, lines, rows, wear, Shop.objects.get()),
        }
    return shown
