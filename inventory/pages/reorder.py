"""Reorder list: what to order now, from whom, and why; ticked lines become draft orders."""

import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views import View

from inventory.actions import draft_orders
from inventory.errors import Refused
from inventory.exchange.csv_export import csv_response
from inventory.models import ForecastRun, Snooze
from inventory.pages import display
from inventory.pages.access import check_role
from inventory.pages.context import shop
from inventory.pages.forecast_run import run_news
from inventory.pages.forms import UNPROCESSABLE
from inventory.pages.joined_words import OrderedTogether, ordered_together
from inventory.pages.reorder_csv import csv_rows
from inventory.queries.list_changes import (
    LineChange,
    ListChanges,
    list_changes,
    runs_to_compare,
)
from inventory.queries.orders import newest_order_line, suppliers_of
from inventory.queries.reorder_list import ReorderLine, ReorderList, SupplierGroup, reorder_list

OLD_RUN_DAYS = 7
MOST_PACKS = 100_000


@dataclass(frozen=True)
class Ticked:
    """What the form says: packs by offer id, typed as they came, and what is wrong with them.

    seen: id of the newest order line when the form was shown.
    """

    packs: dict[int, str]
    wrong: list[str] = field(default_factory=list)
    seen: int | None = None

    @property
    def whole(self) -> dict[int, int]:
        return {offer: int(text) for offer, text in self.packs.items()}


@dataclass(frozen=True)
class Row:
    """A line as it stands on the page."""

    line: ReorderLine
    word: str
    mark: str
    packs: str
    ticked: bool
    is_soon: bool
    change: LineChange | None
    woken: Snooze | None


class ReorderPage(View):
    """GET shows the list; POST drafts one order for each supplier of the ticked lines."""

    def get(self, request: HttpRequest) -> HttpResponse:
        if request.GET.get("format") == "csv":
            listed = reorder_list(timezone.localdate())
            return csv_response("reorder", csv_rows(listed, _changes(request, listed)))
        return _page(request)

    def post(self, request: HttpRequest) -> HttpResponse:
        check_role(request.user, "maker")
        today = timezone.localdate()
        ticked = _ticked(request.POST)
        key = _key(request.POST.get("key", ""))
        try:
            if ticked.wrong:
                raise Refused(" ".join(ticked.wrong))
            first = draft_orders(
                packs=ticked.whole, day=today, seen=ticked.seen, by=request.user, key=key
            )
        except Refused as refusal:
            return _page(request, ticked, str(refusal))
        count = suppliers_of(ticked.packs)
        if count == 1:
            messages.success(request, f"Order {first} is drafted. Send it when it is right.")
            return redirect(first)
        messages.success(request, f"{count} orders are drafted. Send them when they are right.")
        return redirect(f"{reverse('orders')}?state=draft")


def _page(request: HttpRequest, ticked: Ticked | None = None, refused: str = "") -> HttpResponse:
    seen = newest_order_line()  # before the list, so that what comes between them is noticed
    listed = reorder_list(timezone.localdate())
    changes = _changes(request, listed)
    together = ordered_together(listed, shop(request)["shop"])
    riding = {line.item.pk for each in together.values() for line in each.lines}

    def rows(lines: Iterable[ReorderLine], is_due: bool) -> list[Row]:
        return [_row(line, listed, changes, ticked, is_due) for line in lines]

    shown = {
        "heading": "Reorder list",
        "sub": _as_of(listed.run),
        "listed": listed,
        "groups": [
            (group, rows(group.lines, True), *_beside(group, together, rows))
            for group in listed.groups
        ],
        "soon": rows([line for line in listed.soon if line.item.pk not in riding], False),
        "changes": changes,
        "others": [run for run in runs_to_compare(listed.run) if run != changes.since]
        if changes
        else [],
        "age": (listed.day - listed.run.as_of).days if listed.run else 0,
        "old_run_days": OLD_RUN_DAYS,
        "refused": refused,
        "seen": seen,
        **run_news(listed.run),
    }
    return render(request, "reorder/list.html", shown, status=UNPROCESSABLE if refused else 200)


def _beside(
    group: SupplierGroup,
    together: dict[int, OrderedTogether],
    rows: Callable[[Iterable[ReorderLine], bool], list[Row]],
) -> tuple[OrderedTogether | None, list[tuple[str, list[Row]]]]:
    """What belongs to a group's order beside what is due."""
    found = together.get(group.supplier.pk) if group.supplier else None
    return found, [(ride.words, rows(ride.lines, False)) for ride in found.rides] if found else []


def _as_of(run: ForecastRun | None) -> str:
    return f"As of the forecast of {display.day(run.as_of)}, on stock as it is now." if run else ""


def _changes(request: HttpRequest, listed: ReorderList) -> ListChanges | None:
    """Against the run that was asked for, else the one of the last look; None for the first run."""
    runs = runs_to_compare(listed.run) if listed.run else []
    if not runs:
        return None
    asked = next((run for run in runs if str(run.pk) == request.GET.get("since")), runs[0])
    return list_changes(listed, asked)


def _row(
    line: ReorderLine,
    listed: ReorderList,
    changes: ListChanges | None,
    ticked: Ticked | None,
    is_due: bool,
) -> Row:
    packs = str(line.choice.packs or line.offer.minimum_packs) if line.choice else ""
    chosen = is_due and line.choice is not None and line.choice.packs > 0
    if ticked is not None and line.offer is not None:
        chosen = line.offer.pk in ticked.packs
        packs = ticked.packs.get(line.offer.pk, packs)
    word, mark = _urgency(line, listed.day)
    return Row(
        line=line,
        word=word,
        mark=mark,
        packs=packs,
        ticked=chosen,
        is_soon=not is_due,
        change=changes.lines.get(line.item.pk) if changes else None,
        woken=listed.woken.get(line.item.pk),
    )


def _urgency(line: ReorderLine, day: date) -> tuple[str, str]:
    """How pressing a line is, as (word, mark)."""
    if line.offer is None:
        return "nobody offers it", "stop"
    if line.comes_late:
        return "what is on order may come too late", "stop"
    if line.drafted and not line.is_due:
        return "send its draft order", "watch"
    out = line.runs_out.expected
    if line.stock.available <= 0 and not line.arrivals:
        return "none left", "stop"
    if out is not None and (out - day).days < line.forecast.lead_mean_days:
        return "may run out before it can come", "stop"
    if line.order_by is not None and line.order_by <= day:
        return "order today", "watch"
    if line.last_qty:
        return "last buy", "watch"
    if line.order_by is not None:
        return f"order by {display.day(line.order_by)}", ""
    return "below its reorder point", "watch"


def _ticked(sent: QueryDict) -> Ticked:
    """Read tick boxes `take` (offer ids) and the packs typed beside them."""
    packs = {
        int(offer): sent.get(f"packs-{offer}", "").strip()
        for offer in sent.getlist("take")
        if offer.isdecimal() and len(offer) < 19
    }
    wrong = [
        f"“{text or 'nothing'}” is no number of packs. Write a whole number, 1 or more."
        for text in packs.values()
        if not (text.isdecimal() and len(text) < 9 and 1 <= int(text) <= MOST_PACKS)
    ]
    seen = sent.get("seen", "")
    return Ticked(packs, wrong, int(seen) if seen.isdecimal() and len(seen) < 19 else None)


def _key(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None
