"""Cuts without a batch: these pieces are here, those parts are wanted, what comes out?"""

import re
from collections import Counter
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.models import Item
from inventory.pages.cut_sheets import cut_sheet
from inventory.pages.forms import UNPROCESSABLE, LengthField, PiecesField, read_in_units_of
from inventory.queries.loose_cuts import LooseCuts, loose_name, plan_loose_cuts, rack_sizes
from inventory.queries.material_plan import MaterialPlan
from inventory.units import show_size

MOST_PIECES = 200
MOST_PARTS = 400
THIN_SPACE = "\u202f"
IN_COLUMNS = re.compile(r"\s*(?:\t|;|\s{2,})\s*")


class ColumnsField(PiecesField):
    """Sizes and counts in two columns, as pasted from a table, or as in "3 of 914 mm"."""

    question = ""

    def _read(self, line: str) -> tuple[int, int | None, int]:
        size, *count = IN_COLUMNS.split(line)
        return super()._read(f"{count[0]} of {size}" if len(count) == 1 else line)


class TryForm(forms.Form):
    """Sizes in two columns; lengths alone are bars or rolls, length x width are sheets."""

    pieces = ColumnsField(
        label="These pieces are here",
        help_text="A size a line and how many, in two columns or as 3 of 914 mm; for sheet 610 x 305 mm.",
    )
    parts = ColumnsField(
        label="These parts are wanted",
        up=True,
        help_text="Allowance included. For sheet, the side along the grain first.",
    )
    kerf = LengthField(label="Kerf", up=True, nothing=0, required=False)
    trim = LengthField(label="Lost squaring the first edge", up=True, nothing=0, required=False)
    keep = LengthField(label="Shortest remnant worth keeping", nothing=0, required=False)
    grain = forms.BooleanField(
        label="Follow the grain", required=False, help_text="Sheet only: parts are not turned."
    )

    def __init__(self, *args: Any, user: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        read_in_units_of(user, self)

    def clean(self) -> dict[str, Any]:
        asked = super().clean()
        for name, most in (("pieces", MOST_PIECES), ("parts", MOST_PARTS)):
            if sum(count for *_, count in asked.get(name, [])) > most:
                self.add_error(name, f"More than {most} at once take too long. Ask in two goes.")
        flat = {
            width is not None for _, width, _ in [*asked.get("pieces", []), *asked.get("parts", [])]
        }
        if len(flat) > 1:
            raise forms.ValidationError(
                "Some sizes have a width and some don't. Bars and rolls have a length only, "
                "sheets and their parts a length and a width."
            )
        return asked

    def cuts(self) -> LooseCuts:
        asked = self.cleaned_data
        return LooseCuts(
            pieces=_merged(asked["pieces"]),
            parts=_merged(asked["parts"]),
            kerf_um=asked["kerf"],
            trim_um=asked["trim"],
            keep_um=asked["keep"],
            has_grain=asked["grain"],
        )


def try_cuts_page(request: HttpRequest) -> HttpResponse:
    """Form and plan on one page, with an address that can be passed on."""
    shown: dict[str, Any] = {"heading": "Try cuts without a batch"}
    if "pieces" not in request.GET:
        shown["form"] = TryForm(user=request.user, initial=_from_rack(request))
        return render(request, "batches/try_cuts.html", shown)
    shown["form"] = form = TryForm(request.GET, user=request.user)
    if not form.is_valid():
        return render(request, "batches/try_cuts.html", shown, status=UNPROCESSABLE)
    material = plan_loose_cuts(form.cuts())
    shown |= {
        "wanted": sum(material.kits.values()),
        "made": sum(material.can_make.values()),
        "knives": material.plan.stages[0],
        "sheet": cut_sheet(material, request.user),
        "missing": _missing(material, request.user.length_unit),
    }
    return render(request, "batches/try_cuts.html", shown)


def _missing(material: MaterialPlan, unit: str) -> list[tuple[int, str]]:
    """How many of which size don't come out."""
    sizes = {loose_name(size): size for size in material.blanks.values()}
    return [
        (count, show_size(sizes[name].length_um, sizes[name].width_um or None, unit))
        for name, count in material.plan.missing.items()
        if count
    ]


def _merged(sizes: list[tuple[int, int | None, int]]) -> dict[tuple[int, int | None], int]:
    counts: Counter[tuple[int, int | None]] = Counter()
    for length, width, count in sizes:
        counts[length, width] += count
    return dict(counts)


def _from_rack(request: HttpRequest) -> dict[str, Any]:
    """What lies free of an item, when the address names one."""
    item = Item.objects.filter(code=request.GET.get("item", "")).first()
    if item is None or not item.in_pieces:
        return {"kerf": 1500}
    unit = request.user.length_unit
    lines = [
        f"{count} of {show_size(length, width, unit)}"
        for (length, width), count in rack_sizes(item).items()
    ]
    return {
        "pieces": "\n".join(lines).replace(THIN_SPACE, ""),
        "kerf": item.kerf_um,
        "trim": item.trim_um,
        "keep": item.keep_length_um,
        "grain": item.has_grain,
    }
