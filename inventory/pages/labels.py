"""Label sheets: choose what and which sheet; the page itself is what the printer prints."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode, urlsplit

from django import forms
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import SafeString

from inventory.exchange.label_sheets import SHEETS
from inventory.exchange.qr_code import qr_drawing
from inventory.models import Batch, Item, Lot, Piece
from inventory.pages.label_text import Label, label_of
from inventory.queries import labels as queries

MOST_LABELS = 500
"""On one page, copies included: more than a browser lays out in good time."""
ONLY_HERE = {"localhost", "127.0.0.1", "::1"}


@dataclass(frozen=True)
class Source:
    """Something to print labels for; `model` and `field` find the record that is asked for."""

    title: str
    records: Callable[..., list[queries.Labelled]]
    model: type | None = None
    field: str = ""


SOURCES = {
    "item": Source("An item and its lots", queries.item_and_lots, Item, "code"),
    "pieces": Source("The pieces of an item", queries.pieces_here, Item, "code"),
    "lot": Source("What came with one lot", queries.lot_and_pieces, Lot, "number"),
    "batch": Source("A batch and its remnants", queries.batch_and_remnants, Batch, "number"),
    "cutters": Source("The cutters in the machines", queries.cutters_in_machines),
    "places": Source("All places", queries.all_places),
}


class SourceForm(forms.Form):
    """What the labels are for."""

    of = forms.ChoiceField(
        label="Labels for", choices=[(code, source.title) for code, source in SOURCES.items()]
    )
    which = forms.CharField(
        label="Which",
        max_length=60,
        required=False,
        help_text="Item code, lot or batch number; empty for cutters and places.",
    )

    def clean(self) -> dict:
        asked = super().clean()
        source = SOURCES.get(asked.get("of", ""))
        if source and source.model:
            which = asked.get("which", "")
            found = source.model.objects.filter(**{f"{source.field}__iexact": which}).first()
            if found is None:
                kind = source.model._meta.verbose_name
                self.add_error("which", f"No {kind} is called “{which}”. Write it as on its page.")
            asked["record"] = found
        return asked

    def records(self) -> list[queries.Labelled]:
        source = SOURCES[self.cleaned_data["of"]]
        return source.records(self.cleaned_data["record"]) if source.model else source.records()


class SheetForm(forms.Form):
    """How they are printed; a sheet that is used in part goes on with its first free label."""

    sheet = forms.ChoiceField(
        choices=[(code, sheet.name) for code, sheet in SHEETS.items()], initial="a4-24"
    )
    first = forms.IntegerField(
        label="First free label",
        min_value=1,
        initial=1,
        help_text="Counted line by line from the top left.",
    )
    copies = forms.IntegerField(label="Of each", min_value=1, max_value=20, initial=1)

    def clean(self) -> dict:
        asked = super().clean()
        sheet = SHEETS.get(asked.get("sheet", ""))
        if sheet and asked.get("first", 1) > sheet.count:
            self.add_error("first", f"That sheet has {sheet.count} labels.")
        return asked


def labels_page(request: HttpRequest) -> HttpResponse:
    """?of=pieces&which=BAR-4X40 shows the sheet; `tick` names the labels wanted, else all."""
    asked = request.GET
    source = SourceForm(asked if "of" in asked else None, label_suffix="")
    shown: dict[str, Any] = {"heading": "Labels", "source": source}
    if source.is_bound and source.is_valid():
        shown |= _sheet(request, source)
    return render(request, "labels/labels.html", shown)


def sheet_css(request: HttpRequest, sheet: str) -> HttpResponse:
    """Paper and grid of one sheet as a stylesheet of its own, because pages carry no inline style."""
    if sheet not in SHEETS:
        raise Http404(sheet)
    return HttpResponse(SHEETS[sheet].css(), content_type="text/css")


def labels_of_pieces(pieces: Sequence[Piece]) -> str:
    """Address of a sheet for these pieces of one item."""
    item = pieces[0].lot.item
    ticks = [("tick", piece.label) for piece in pieces]
    asked = [("of", "pieces"), ("which", item.code), ("chosen", "1"), *ticks]
    return f"{reverse('labels')}?{urlencode(asked)}"


def _sheet(request: HttpRequest, source: SourceForm) -> dict:
    asked = request.GET
    ticked = set(asked.getlist("tick")) if "chosen" in asked else None
    labels = [label_of(record, request.user) for record in source.records()]
    wanted = [label for label in labels if ticked is None or label.key in ticked]
    form = SheetForm(asked if "sheet" in asked else None, label_suffix="")
    of = form.cleaned_data if form.is_bound and form.is_valid() else _first_choice(form)
    sheet = SHEETS[of["sheet"]]
    base = address_of_the_shop(request)
    printed = [label for label in wanted for _ in range(of["copies"])]
    drawn = [(label, _code(base, label)) for label in printed[:MOST_LABELS]]
    return {
        "sheet": sheet,
        "sheet_form": form,
        "choices": [(label, ticked is None or label.key in ticked) for label in labels],
        "pages": sheet.pages(drawn, of["first"]) if drawn else [],
        "left_out": len(printed) - len(drawn),
        "base": base,
        "only_here": urlsplit(base).hostname in ONLY_HERE,
    }


def _first_choice(form: SheetForm) -> dict[str, Any]:
    return {name: field.initial for name, field in form.fields.items()}


def address_of_the_shop(request: HttpRequest) -> str:
    """Where a phone that reads a code is sent: the address set for the shop, else this one."""
    return settings.SHOP_ADDRESS or request.build_absolute_uri("/").rstrip("/")


def _code(base: str, label: Label) -> SafeString:
    return qr_drawing(base + reverse("short", args=[label.key]))
