"""The batch on paper, for the bench."""

from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.errors import Refused
from inventory.models import Batch
from inventory.pages.batch_words import batch_words, no_verdict, state_mark
from inventory.pages.cut_sheets import cut_sheets
from inventory.pages.forms import UNPROCESSABLE
from inventory.queries.batches import batches_with_lines
from inventory.queries.bench_sheet import bench_sheet
from inventory.queries.cautions import DEFER

OPEN = (Batch.State.PLANNED, Batch.State.RESERVED, Batch.State.IN_WORK)


def bench_sheet_page(request: HttpRequest, number: str) -> HttpResponse:
    batch = get_object_or_404(batches_with_lines(), number=number, state__in=OPEN)
    word, mark = state_mark(batch)
    shown: dict[str, Any] = {
        "batch": batch,
        "heading": f"Bench sheet {batch.number}",
        "sub": batch_words(batch),
        "word": word,
        "mark": mark,
        "printed_on": timezone.localdate(),
        "defer": DEFER,
    }
    try:
        sheet = bench_sheet(batch, timezone.localdate())
    except Refused as refusal:
        shown["verdict"] = no_verdict(refusal)
        return render(request, "batches/planned_check.html", shown, status=UNPROCESSABLE)
    shown |= {
        "sheet": sheet,
        "picks": [
            (place, list(rows)) for place, rows in groupby(sheet.picks, lambda pick: pick.place)
        ],
        "cut_sheets": cut_sheets(sheet.plans, request.user),
    }
    return render(request, "batches/sheet.html", shown)
