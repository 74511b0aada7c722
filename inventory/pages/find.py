"""The short address on a label, and finding a record by what is written on it."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from inventory.queries.labels import Labelled, labels_like, with_label

NOT_FOUND = 404


def short_address(request: HttpRequest, label: str) -> HttpResponse:
    """Lead to the record that carries the label; say so when none or several do."""
    return _lead_to(request, label.strip("/ "))


def find_page(request: HttpRequest) -> HttpResponse:
    """The same by typing: ?q=P-0042."""
    asked = request.GET.get("q", "").strip()
    return _lead_to(request, asked) if asked else _find_form(request, "", [])


def _lead_to(request: HttpRequest, label: str) -> HttpResponse:
    found = with_label(label)
    if len(found) == 1:
        return HttpResponseRedirect(found[0].get_absolute_url())
    if found:
        return _find_form(request, label, found, said=f"“{label}” stands on more than one label.")
    said = f"No item, lot, piece, place, cutter, batch or order carries the label “{label}”."
    return _find_form(request, label, labels_like(label), said=said, status=NOT_FOUND)


def _find_form(
    request: HttpRequest, asked: str, found: list[Labelled], said: str = "", status: int = 200
) -> HttpResponse:
    shown = {
        "heading": "Find a label",
        "asked": asked,
        "said": said,
        "found": [(record._meta.verbose_name, record) for record in found],
    }
    return render(request, "labels/find.html", shown, status=status)
