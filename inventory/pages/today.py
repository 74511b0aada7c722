"""Today: what needs a decision, in words, the first thing first."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format

from inventory.pages.backups import backup_reminder
from inventory.pages.batch_words import batch_words, short_verdict
from inventory.pages.item import lot_mark
from inventory.queries.batches import batches_in_work
from inventory.queries.mixing import uneven_systems
from inventory.queries.reorder_list import reorder_list
from inventory.queries.today import (
    FirstSteps,
    LotMatter,
    PlannedBatch,
    expiring_lots,
    first_steps,
    overdue_orders,
    planned_batches,
    waiting_lots,
)
from inventory.queries.vendors import out_at_vendors


def today_page(request: HttpRequest) -> HttpResponse:
    steps = first_steps()
    shown: dict[str, Any] = {
        "heading": "Today",
        "sub": date_format(timezone.localdate(), "l, j F Y"),
    }
    if not steps.all_done:
        return render(request, "today/first_steps.html", shown | {"steps": _steps(steps)})
    day = timezone.localdate()
    in_work = batches_in_work()
    shown |= {
        "planned": [_planned(each) for each in planned_batches(day)],
        "in_work": [(each.batch, batch_words(each.batch), each.lines) for each in in_work],
        "reorder": reorder_list(day),
        "overdue": overdue_orders(day),
        "expiring": [_lot(each) for each in expiring_lots(day)],
        "waiting": [_lot(each) for each in waiting_lots()],
        "uneven": uneven_systems(day),
        "out": out_at_vendors(in_work, day),
        "backup_reminder": backup_reminder(request.user),
        "day": day,
    }
    return render(request, "today/today.html", shown)


def _planned(each: PlannedBatch) -> dict[str, Any]:
    return {
        "batch": each.batch,
        "words": batch_words(each.batch),
        "answer": short_verdict(each.answer) if each.answer else None,
        "is_held": each.batch.state == each.batch.State.RESERVED,
    }


def _lot(each: LotMatter) -> tuple[LotMatter, str, str]:
    return each, *lot_mark(each.lot)


def _steps(steps: FirstSteps) -> list[dict[str, Any]]:
    return [
        {
            "name": "Items",
            "words": "What you keep: bars, sheets, screws, adhesives, cutters, outside services.",
            "done": steps.items,
            "page": "item_new",
            "label": "Add an item",
        },
        {
            "name": "Suppliers and what they sell",
            "words": "Packs, prices, minimum and lead time, so that an order date can be named.",
            "done": steps.offers,
            "page": "supplier_new",
            "label": "Add a supplier",
        },
        {
            "name": "A product with its bill of materials",
            "words": "Operations with their yields, and what each one takes and wears.",
            "done": steps.bills,
            "page": "product_new",
            "label": "Add a product",
        },
        {
            "name": "Opening stock",
            "words": "Open an item and receive what lies there, pieces with their sizes.",
            "done": steps.stock,
            "page": "stock",
            "label": "To the stock",
        },
    ]
