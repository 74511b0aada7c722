"""One batch: where it stands, what to do next, what it holds, took and cost."""

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.errors import Refused
from inventory.models import Batch, Shop
from inventory.pages import display
from inventory.pages.batch_check import check_shown, need_csv
from inventory.pages.batch_steps import CountForm
from inventory.pages.batch_tables import ItemColumn
from inventory.pages.batch_words import batch_words, no_verdict, short_verdict, state_mark
from inventory.pages.columns import NUMBER, MoneyColumn, QuantityColumn, TextColumn
from inventory.pages.forms import UNPROCESSABLE
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
